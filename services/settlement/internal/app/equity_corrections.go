package app

import (
	"context"
	"slices"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
)

// yearOf is one member's crop year.
type yearOf struct {
	member   string
	cropYear int
}

// correctEquity keeps capital that was given back within what is kept, after payouts that changed it were saved. The gate must be
// held.
func (a *App) correctEquity(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) ([]feed.Fact, error) {
	causes, members := map[yearOf]*domain.Payout{}, []string{}
	for _, p := range payouts {
		if !slices.ContainsFunc(p.Lines, func(l domain.Line) bool { return l.Kind == domain.LineRetain }) {
			continue
		}
		of := yearOf{p.Barrel.Member, p.Barrel.CropYear}
		if causes[of] == nil {
			members = append(members, of.member)
		}
		causes[of] = p
	}
	if len(members) == 0 {
		return nil, nil
	}
	lots, err := a.Store.RedeemedLots(ctx, tx, members)
	if err != nil {
		return nil, err
	}
	var corrections []domain.EquityCorrection
	var entries []*ledger.Entry
	var facts []feed.Fact
	for _, l := range lots {
		cause := causes[yearOf{l.Member, l.CropYear}]
		if cause == nil {
			continue
		}
		c, ok := l.Correct(cause, a.Terms)
		if !ok {
			continue
		}
		corrections, entries = append(corrections, c), append(entries, ledger.ForEquityCorrection(c, a.date(c.Time)))
		facts = append(facts, feed.Fact{Aggregate: c.Name(), Payload: &settlementv1.EquityCorrected{Correction: a.correctionToProto(c)}, OccurTime: c.Time})
	}
	if len(corrections) == 0 {
		return nil, nil
	}
	if err := a.Store.InsertEquityCorrections(ctx, tx, corrections); err != nil {
		return nil, err
	}
	return facts, a.book(ctx, tx, entries...)
}

func (a *App) correctionToProto(c domain.EquityCorrection) *settlementv1.EquityCorrection {
	return &settlementv1.EquityCorrection{
		Name: c.Name(), Member: c.Member, CropYear: int32(c.CropYear), Amount: wire.MoneyToProto(c.Amount, a.Terms.Currency), Reason: c.Reason, //nolint:gosec // a year
		Payout: "payouts/" + c.Payout.String(), CorrectTime: stamp(c.Time),
	}
}
