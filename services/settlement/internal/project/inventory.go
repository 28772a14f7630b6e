package project

import (
	"context"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/feed"
)

// Inventory applies one fact of the warehouse: a hold or its end, or what a shipment brought or cost.
func (p *Project) Inventory(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	switch fact := ev.Payload.(type) {
	case *inventoryv1.HoldPlaced:
		return p.hold(ctx, tx, fact.GetHold(), fact.GetBarrel(), false)
	case *inventoryv1.HoldReleased:
		return p.hold(ctx, tx, fact.GetHold(), fact.GetBarrel(), true)
	case *inventoryv1.SaleRecorded:
		return nil, p.sale(ctx, tx, fact.GetSale())
	default:
		return nil, nil
	}
}

func (p *Project) hold(ctx context.Context, tx pgx.Tx, h *inventoryv1.Hold, barrel string, released bool) ([]feed.Fact, error) {
	id, err := identity(h.GetName(), "holds")
	if err != nil {
		return nil, err
	}
	held, err := identity(barrel, "barrels")
	if err != nil {
		return nil, err
	}
	// The name without its prefix, so that a code newer than this program is kept and, being unlisted, blocks.
	code := strings.TrimPrefix(h.GetCode().String(), "HOLD_CODE_")
	if err := p.Tables.KeepHold(ctx, tx, id, held, code, h.GetPlaceTime().AsTime(), released); err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, []uuid.UUID{held})
}
