package project

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// weightsDoubted flags the barrels of a failed scale check. Only intake's feed brings the flag and the delivery, so none of
// them is priced in between, whatever certificates or warehouse holds arrive when. What is priced already stays until the
// review is decided.
func (p *Project) weightsDoubted(ctx context.Context, tx pgx.Tx, review *intakev1.ScaleReview) error {
	id, err := identity(review.GetName(), "scaleReviews")
	if err != nil {
		return err
	}
	barrels := make([]uuid.UUID, 0, len(review.GetBarrels()))
	for _, name := range review.GetBarrels() {
		barrel, err := identity(name, "barrels")
		if err != nil {
			return err
		}
		barrels = append(barrels, barrel)
	}
	if err := p.turn(ctx, tx); err != nil {
		return err
	}
	return p.Tables.DoubtWeights(ctx, tx, id, barrels, "a check of the scale it was weighed on failed; it is priced when its weight is decided about")
}

// turn waits for the turn to price: whoever prices at this moment is done before a doubt is noted, or sees it.
func (p *Project) turn(ctx context.Context, tx pgx.Tx) error {
	if feed.Rebuilding(ctx) {
		return nil
	}
	return p.Settler.Turn(ctx, tx)
}

func (p *Project) weightsTrusted(ctx context.Context, tx pgx.Tx, review *intakev1.ScaleReview) ([]feed.Fact, error) {
	id, err := identity(review.GetName(), "scaleReviews")
	if err != nil {
		return nil, err
	}
	barrels, err := p.Tables.TrustWeights(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, barrels)
}

// masses reads several weights, all needed.
func (p *Project) masses(wanted map[*quantity.Mass]*typev1.Mass) error {
	for to, from := range wanted {
		m, err := wire.MassFromProto(from, p.Terms.Unit)
		if err != nil {
			return fmt.Errorf("weight: %w", err)
		}
		*to = m
	}
	return nil
}

func (p *Project) reweighed(ctx context.Context, tx pgx.Tx, r *intakev1.Reweigh) ([]feed.Fact, error) {
	barrel, err := identity(r.GetBarrel(), "barrels")
	if err != nil {
		return nil, err
	}
	var before, after, net, correction quantity.Mass
	if err := p.masses(map[*quantity.Mass]*typev1.Mass{
		&before: r.GetPreviousGross(), &after: r.GetGross(), &net: r.GetNet(), &correction: r.GetNetCorrection(),
	}); err != nil {
		return nil, fmt.Errorf("%s: %w", r.GetName(), err)
	}
	if err := p.Tables.KeepReweigh(ctx, tx, barrel, p.Terms.Reweighed(r.GetName(), before, after, net, correction)); err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, []uuid.UUID{barrel})
}

func (p *Project) tareFound(ctx context.Context, tx pgx.Tx, v *intakev1.TareVariance) ([]feed.Fact, error) {
	barrel, err := identity(v.GetBarrel(), "barrels")
	if err != nil {
		return nil, err
	}
	var said, empty, correction, allowed quantity.Mass
	if err := p.masses(map[*quantity.Mass]*typev1.Mass{
		&said: v.GetTare(), &empty: v.GetEmptyWeight(), &correction: v.GetNetCorrection(), &allowed: v.GetAllowed(),
	}); err != nil {
		return nil, fmt.Errorf("%s: %w", v.GetName(), err)
	}
	c, counts := p.Terms.Tare(p.Tare, said, empty, correction, allowed)
	if !counts {
		return nil, nil
	}
	if err := p.Tables.KeepTare(ctx, tx, barrel, c); err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, []uuid.UUID{barrel})
}
