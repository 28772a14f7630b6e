package app

import (
	"context"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// fillEstimates says of each open pool how much of what the member's honey may come to is credited. The newest trial run is the
// one estimate the house keeps; where the office has made none, nothing is said.
func (a *App) fillEstimates(ctx context.Context, tx pgx.Tx, out *settlementv1.Statement, payouts []*domain.Payout) error {
	pools, err := a.Store.PoolsOf(ctx, tx, int(out.GetCropYear()))
	if err != nil {
		return err
	}
	for _, p := range pools {
		if p.Closed() {
			continue
		}
		runs, err := a.Store.ListRuns(ctx, tx, p.ID, 0, 1)
		if err != nil {
			return err
		}
		for _, r := range runs {
			prices, err := r.Declared(p)
			if err != nil {
				return err
			}
			e, found, err := prices.Estimate(payouts, p.Scope(pools))
			if err != nil {
				return err
			}
			if found {
				out.Estimates = append(out.Estimates, &settlementv1.StatementEstimate{
					Title: p.Title, RunNumber: r.Number, RunDate: string(a.date(r.PrepareTime)), Credited: wire.MoneyToProto(e.Credited, a.Terms.Currency),
					Value: wire.MoneyToProto(e.Value, a.Terms.Currency), CreditedPercent: e.Percent(),
				})
			}
		}
	}
	return nil
}

// contactToProto is nil where the cooperative set nothing.
func contactToProto(c domain.Contact) *settlementv1.OfficeContact {
	if c == (domain.Contact{}) {
		return nil
	}
	return &settlementv1.OfficeContact{PostalAddress: c.PostalAddress, Telephone: c.Telephone, Email: c.Email}
}
