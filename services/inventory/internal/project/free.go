package project

import (
	"context"

	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
)

// decided frees the barrels of a scale review somebody closed.
func (p Project) decided(ctx context.Context, tx pgx.Tx, ev feed.Event, r *intakev1.ScaleReview) ([]feed.Fact, error) {
	review, err := id("scaleReviews", r.GetName())
	if err != nil {
		return nil, err
	}
	var facts []feed.Fact
	for _, name := range r.GetBarrels() {
		freed, err := p.free(ctx, tx, ev, name, "the failed check of "+r.GetScale()+" was decided on", func(h stock.Hold) bool {
			return h.ID == stock.Doubted(review, h.Barrel, "", h.Time).ID
		})
		if err != nil {
			return nil, err
		}
		facts = append(facts, freed...)
	}
	return facts, nil
}

// declared frees what was held for want of a declaration, on this ticket or on those it replaced.
func (p Project) declared(ctx context.Context, tx pgx.Tx, ev feed.Event, e *intakev1.HarvestDeclared) ([]feed.Fact, error) {
	var facts []feed.Fact
	for _, b := range e.GetTicket().GetBarrels() {
		freed, err := p.free(ctx, tx, ev, b.GetName(), "declared: "+e.GetNote(), func(h stock.Hold) bool {
			return h.Code == stock.Documents && h.Placer == stock.House
		})
		if err != nil {
			return nil, err
		}
		facts = append(facts, freed...)
	}
	return facts, nil
}

// free releases the holds of a barrel that match, in the name of who caused the event. Holds are records: a rebuild does
// not release them again.
func (p Project) free(ctx context.Context, tx pgx.Tx, ev feed.Event, name, reason string, match func(stock.Hold) bool) ([]feed.Fact, error) {
	barrel, err := id("barrels", name)
	if err != nil || feed.Rebuilding(ctx) {
		return nil, err
	}
	if err := p.Store.LockFlow(ctx, tx); err != nil {
		return nil, err
	}
	holds, err := p.Store.OpenHolds(ctx, tx, barrel)
	if err != nil {
		return nil, err
	}
	var facts []feed.Fact
	for _, h := range holds {
		if !match(h) {
			continue
		}
		_, freed, err := p.Holds.EndHold(ctx, tx, h, stock.Release{Releaser: ev.Actor, Reason: reason, Time: ev.OccurTime})
		if err != nil {
			return nil, err
		}
		facts = append(facts, freed...)
	}
	return facts, nil
}
