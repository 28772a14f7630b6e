package app

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/ledger"
)

// Settle decides about barrels of which a fact has changed, in the transaction that changed it, and gives what happened.
// Doing it again changes nothing.
func (a *App) Settle(ctx context.Context, tx pgx.Tx, barrels ...uuid.UUID) ([]feed.Fact, error) {
	if len(barrels) == 0 {
		return nil, nil
	}
	// The lock before the look: only then is what the other feeds have brought by now visible.
	if err := a.Store.LockGate(ctx, tx); err != nil {
		return nil, err
	}
	situations, err := a.Store.Situations(ctx, tx, barrels)
	if err != nil {
		return nil, err
	}
	facts, err := a.act(ctx, tx, situations)
	if err != nil {
		return nil, err
	}
	fees, err := a.chargeFees(ctx, tx, situations)
	return append(facts, fees...), err
}

// Turn waits for the turn to price and holds it until the transaction ends.
func (a *App) Turn(ctx context.Context, tx pgx.Tx) error { return a.Store.LockGate(ctx, tx) }

// chargeFees charges the lost appeals about these barrels, each once. The gate must be held.
func (a *App) chargeFees(ctx context.Context, tx pgx.Tx, situations []domain.Situation) ([]feed.Fact, error) {
	if a.Fee.Amount == 0 || len(situations) == 0 {
		return nil, nil
	}
	barrels := make([]uuid.UUID, len(situations))
	byID := make(map[uuid.UUID]domain.Situation, len(situations))
	for i, s := range situations {
		barrels[i], byID[s.Barrel.Barrel] = s.Barrel.Barrel, s
	}
	due, err := a.Store.FeesDue(ctx, tx, barrels)
	if err != nil {
		return nil, err
	}
	var payouts []*domain.Payout
	for _, f := range due {
		s := byID[f.Barrel]
		if !s.Counts {
			continue
		}
		fee, err := domain.NewFee(f, s.Barrel, a.Fee, a.Terms, a.Clock.Now())
		if err != nil {
			return nil, err
		}
		payouts = append(payouts, fee...)
	}
	return a.priced(payouts), a.save(ctx, tx, payouts)
}

// SettleSample is Settle for the barrel a sample was drawn from, if intake has said which. The lock comes before the look:
// intake's fact may be on its way at this very moment, and then one of the two must see the other.
func (a *App) SettleSample(ctx context.Context, tx pgx.Tx, sample string) ([]feed.Fact, error) {
	if err := a.Store.LockGate(ctx, tx); err != nil {
		return nil, err
	}
	barrels, err := a.Store.SampleBarrels(ctx, tx, sample)
	if err != nil {
		return nil, err
	}
	return a.Settle(ctx, tx, barrels...)
}

// act carries out what the situations call for. The gate must be held.
func (a *App) act(ctx context.Context, tx pgx.Tx, situations []domain.Situation) ([]feed.Fact, error) {
	pricer, err := a.pricerFor(ctx, tx)
	if err != nil {
		return nil, err
	}
	now := a.Clock.Now()
	decisions := make([]domain.Decision, len(situations))
	// Each situation's payouts to take back, by its place.
	outdated := make(map[int][]uuid.UUID)
	for i, s := range situations {
		if decisions[i], err = pricer.Decide(s, now); err != nil {
			return nil, fmt.Errorf("decide about barrel %s: %w", s.Barrel.DrumTag, err)
		}
		if decisions[i].Reverse != "" {
			outdated[i] = standing(s)
		}
	}
	payouts, err := a.carryOut(ctx, tx, decisions, outdated, now)
	if err != nil {
		return nil, err
	}
	return a.record(ctx, tx, payouts)
}

// record saves payouts with what follows from them, and gives what happened. The gate must be held.
func (a *App) record(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) ([]feed.Fact, error) {
	if err := a.save(ctx, tx, payouts); err != nil {
		return nil, err
	}
	corrected, err := a.correctEquity(ctx, tx, payouts)
	return append(a.priced(payouts), corrected...), err
}

// save keeps payouts and their journal entries. The gate must be held.
func (a *App) save(ctx context.Context, tx pgx.Tx, payouts []*domain.Payout) error {
	entries := make([]*ledger.Entry, len(payouts))
	for i, p := range payouts {
		entries[i] = ledger.ForPayout(p, a.date(p.Time))
	}
	if err := a.Store.InsertPayouts(ctx, tx, payouts); err != nil {
		return err
	}
	return a.book(ctx, tx, entries...)
}

// book saves journal entries that balance.
func (a *App) book(ctx context.Context, tx pgx.Tx, entries ...*ledger.Entry) error {
	for _, e := range entries {
		if err := e.Check(); err != nil {
			return err
		}
	}
	return a.Store.InsertJournal(ctx, tx, entries)
}

// date is the local date of an instant.
func (a *App) date(t time.Time) domain.Date { return domain.Date(t.In(a.Zone).Format(time.DateOnly)) }

// carryOut makes the payouts, each reversal before the advance that takes its place.
func (a *App) carryOut(ctx context.Context, tx pgx.Tx, decisions []domain.Decision, outdated map[int][]uuid.UUID, now time.Time) ([]*domain.Payout, error) {
	originals, err := a.originals(ctx, tx, slices.Concat(slices.Collect(maps.Values(outdated))...))
	if err != nil {
		return nil, err
	}
	var payouts []*domain.Payout
	for i, d := range decisions {
		for _, id := range outdated[i] {
			reversal, err := originals[id].Reverse(d.Reverse, a.Terms, now)
			if err != nil {
				return nil, fmt.Errorf("reverse: %w", err)
			}
			payouts = append(payouts, reversal)
		}
		payouts = slices.Concat(payouts, d.Advances, d.Finals, d.Progress)
	}
	return payouts, nil
}

// standing are the payouts a barrel has now, the latest first.
func standing(s domain.Situation) []uuid.UUID {
	return slices.Concat(s.Finals, s.Progress, s.Standing.Payouts)
}

func (a *App) originals(ctx context.Context, tx pgx.Tx, ids []uuid.UUID) (map[uuid.UUID]*domain.Payout, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	found, err := a.Store.Payouts(ctx, tx, ids)
	byID := make(map[uuid.UUID]*domain.Payout, len(found))
	for _, p := range found {
		byID[p.ID] = p
	}
	return byID, err
}

// priced are the facts of payouts. They leave the explanations out: those of a season's barrels, priced at once by one
// resolution, would not fit one page of the feed, which ends at a transaction.
func (a *App) priced(payouts []*domain.Payout) []feed.Fact {
	facts := make([]feed.Fact, len(payouts))
	for i, p := range payouts {
		message := PayoutToProto(p, a.Terms)
		for _, l := range message.GetLines() {
			l.Explanation = nil
		}
		facts[i] = feed.Fact{Aggregate: p.Name(), Payload: &settlementv1.PayoutPriced{Payout: message}, OccurTime: p.Time}
	}
	return facts
}
