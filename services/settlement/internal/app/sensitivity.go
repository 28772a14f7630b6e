package app

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// GetRunSensitivity calculates a run's stored inputs with one figure changed at a time, from one reading of its barrels.
func (a *App) GetRunSensitivity(ctx context.Context, req *settlementv1.GetRunSensitivityRequest) (*settlementv1.RunSensitivity, error) {
	out := &settlementv1.RunSensitivity{}
	return out, a.DB.InSnapshot(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := a.Store.Patient(ctx, tx); err != nil {
			return err
		}
		r, err := a.run(ctx, tx, req.GetName())
		if err != nil {
			return err
		}
		head, summary, err := r.Read()
		if err != nil {
			return err
		}
		entries, err := a.Store.PoolEntries(ctx, tx, r.Pool, 0, 0)
		if err != nil {
			return err
		}
		unsold := pool.Unsold(head, entries)
		out.Name, out.Unsold = r.Name(), wire.MoneyToProto(unsold, a.Terms.Currency)
		heaps, err := a.Store.RunHeaps(ctx, tx, r.ID)
		if err != nil {
			return err
		}
		s, err := pool.NewSensitivity(head.Canonical(), heaps, unsold)
		if err != nil {
			return err
		}
		barrels := pool.Gathering{Each: s.Add}
		if err := a.Store.RunLines(ctx, tx, r.ID, func(k *pool.Kept) error { return barrels.Add(*k) }); err != nil {
			return err
		}
		if err := barrels.End(); err != nil {
			return err
		}
		variants, err := s.Finish()
		for _, v := range variants {
			out.Variants = append(out.Variants, a.variantToProto(v, summary))
		}
		return err
	})
}

func (a *App) variantToProto(v *pool.Variant, run *pool.Summary) *settlementv1.RunVariant {
	cent, unit := a.Terms.Money(1), a.Terms.Unit.Word()
	words := map[pool.Shifted]string{
		pool.MoreExpenses: fmt.Sprintf("expenses %s more for each %s", cent, unit), pool.LessExpenses: fmt.Sprintf("expenses %s less for each %s", cent, unit),
		pool.MoreUnsold: "unsold honey worth 5 % more", pool.LessUnsold: "unsold honey worth 5 % less",
	}
	out := &settlementv1.RunVariant{Description: words[v.Change], Shift: wire.MoneyToProto(v.Shift, a.Terms.Currency)}
	if v.Refused != nil {
		out.Refused = v.Refused.Message
		return out
	}
	out.BasePrice = wire.PriceToProto(v.Summary.Base, a.Terms.Currency, a.Terms.Unit)
	out.BasePriceDifference = wire.PriceToProto(v.Summary.Base-run.Base, a.Terms.Currency, a.Terms.Unit)
	out.Due, out.DueDifference = wire.MoneyToProto(v.Summary.Due, a.Terms.Currency), wire.MoneyToProto(v.Summary.Due-run.Due, a.Terms.Currency)
	out.Receivable = wire.MoneyToProto(v.Summary.Receivable, a.Terms.Currency)
	return out
}
