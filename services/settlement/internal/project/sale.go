package project

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// kinds of sales as entries of a pool.
var kinds = map[inventoryv1.SaleKind]pool.EntryKind{
	inventoryv1.SaleKind_SALE_KIND_PROCEEDS: pool.Proceeds,
	inventoryv1.SaleKind_SALE_KIND_EXPENSE:  pool.Expense,
}

// sale keeps what a shipment brought or cost, part by part; a part of nothing has nothing to be booked.
func (p *Project) sale(ctx context.Context, tx pgx.Tx, s *inventoryv1.Sale) error {
	id, err := identity(s.GetName(), "sales")
	if err != nil {
		return err
	}
	shipment, err := identity(s.GetShipment(), "shipments")
	if err != nil {
		return err
	}
	kind, known := kinds[s.GetKind()]
	if !known {
		return fmt.Errorf("%s has a side this program does not know: %s", s.GetName(), s.GetKind())
	}
	date, err := domain.ParseDate(s.GetEntryDate())
	if err != nil {
		return fmt.Errorf("date of %s: %w", s.GetName(), err)
	}
	for n, m := range s.GetParts() {
		part := &pool.SalePart{
			Sale: id, Shipment: shipment, Place: n + 1, Kind: kind, CropYear: int(m.GetCropYear()), Variety: m.GetVariety(), Document: s.GetDocument(), Date: date,
		}
		if part.Mass, err = wire.MassFromProto(m.GetMass(), p.Terms.Unit); err != nil {
			return fmt.Errorf("mass of %s: %w", s.GetName(), err)
		}
		if part.Amount, err = wire.MoneyFromProto(m.GetAmount(), p.Terms.Currency); err != nil {
			return fmt.Errorf("amount of %s: %w", s.GetName(), err)
		}
		if part.Amount == 0 {
			continue
		}
		if err := p.Tables.KeepSalePart(ctx, tx, part); err != nil {
			return err
		}
	}
	return nil
}
