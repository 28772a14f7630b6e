package app

import (
	"context"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// PaymentYearStore is where it is kept of which crop years balances and payments are.
type PaymentYearStore interface {
	MemberYears(ctx context.Context, q pg.Querier, members []string) (map[string]payment.ByYear, error)
	InsertYearsPaid(ctx context.Context, tx pgx.Tx, batch uuid.UUID, members []string) error
	YearsPaid(ctx context.Context, q pg.Querier, batch uuid.UUID, member string) (payment.ByYear, error)
	InsertYearsBack(ctx context.Context, tx pgx.Tx, back payment.Item, years payment.ByYear) error
}

// yearsOf tells what stands by crop year for the members of whom a notice names one. Few are; the others need no such sums.
func (a *App) yearsOf(ctx context.Context, q pg.Querier, notices []*payment.Encumbrance) (map[string]payment.ByYear, error) {
	var members []string
	for _, e := range notices {
		if e.CropYear != 0 && !slices.Contains(members, e.Member) {
			members = append(members, e.Member)
		}
	}
	if len(members) == 0 {
		return nil, nil
	}
	return a.Store.MemberYears(ctx, q, members)
}

// bringBack gives a returned payment back to the crop years it was of.
func (a *App) bringBack(ctx context.Context, tx pgx.Tx, back payment.Item) error {
	year := 0
	if back.Payee != back.Member {
		e, err := a.encumbrance(ctx, tx, back.Payee)
		if err != nil {
			return err
		}
		year = e.CropYear
	}
	taken, err := a.Store.YearsPaid(ctx, tx, back.Batch, back.Member)
	if err != nil {
		return err
	}
	years, err := back.Back(year, taken)
	if err != nil {
		return err
	}
	return a.Store.InsertYearsBack(ctx, tx, back, years)
}
