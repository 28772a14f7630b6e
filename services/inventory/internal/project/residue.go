package project

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/feed"
)

// suspected holds the barrel of every sample a residue is suspected in. Holds are records: a rebuild does not place them
// again.
func (p Project) suspected(ctx context.Context, tx pgx.Tx, e *gradingv1.ResidueSuspected) ([]feed.Fact, error) {
	if feed.Rebuilding(ctx) {
		return nil, nil
	}
	result, err := id("outsideResults", e.GetResult().GetName())
	if err != nil {
		return nil, err
	}
	barrels, err := p.drawnFrom(ctx, tx, e.GetSamples())
	if err != nil {
		return nil, err
	}
	var facts []feed.Fact
	for _, sample := range e.GetSamples() {
		h := stock.Suspected(result, sample, barrels[sample], e.GetExplanation(), e.GetResult().GetSecondTime().AsTime())
		placed, err := p.held(ctx, tx, h)
		if err != nil {
			return nil, err
		}
		facts = append(facts, placed...)
	}
	return facts, nil
}

// drawnFrom finds the barrels of samples. Without every one of them nothing is held yet: half a composite must not leave.
func (p Project) drawnFrom(ctx context.Context, tx pgx.Tx, samples []string) (map[string]uuid.UUID, error) {
	barrels, err := p.Store.DrawnFrom(ctx, tx, samples)
	if err != nil {
		return nil, err
	}
	for _, sample := range samples {
		if _, known := barrels[sample]; !known {
			return nil, fmt.Errorf("barrel of a suspected sample: %w", feed.ErrNotYet)
		}
	}
	return barrels, nil
}

// cleared frees the barrel of a sample from the holds of the results that had suspected it; others stay.
func (p Project) cleared(ctx context.Context, tx pgx.Tx, ev feed.Event, e *gradingv1.SampleCleared) ([]feed.Fact, error) {
	if feed.Rebuilding(ctx) {
		return nil, nil
	}
	sample := e.GetSample()
	barrels, err := p.drawnFrom(ctx, tx, []string{sample})
	if err != nil {
		return nil, err
	}
	var ours []uuid.UUID
	for _, name := range e.GetSuspicions() {
		result, err := id("outsideResults", name)
		if err != nil {
			return nil, err
		}
		ours = append(ours, stock.SuspectedID(result, sample))
	}
	return p.free(ctx, tx, ev, "barrels/"+barrels[sample].String(), e.GetExplanation(), func(h stock.Hold) bool {
		return slices.Contains(ours, h.ID)
	})
}
