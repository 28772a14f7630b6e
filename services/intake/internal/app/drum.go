package app

import (
	"context"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Drum reads a drum and what fills it.
func (a *App) Drum(ctx context.Context, q pg.Querier, tag string) (domain.Drum, error) {
	return a.Store.Drum(ctx, q, tag)
}

// ReleaseDrum ends the filling of a drum. r carries the reason and, if the empty drum was weighed, its weight.
func (a *App) ReleaseDrum(ctx context.Context, q pg.Querier, tag string, r domain.Release) (domain.Drum, []feed.Fact, error) {
	if err := a.Store.LockDrum(ctx, q, tag); err != nil {
		return domain.Drum{}, nil, err
	}
	d, err := a.Store.Drum(ctx, q, tag)
	if err != nil {
		return d, nil, err
	}
	if err := d.MayRelease(); err != nil {
		return d, nil, err
	}
	barrel := d.Fill.Barrel
	r.Barrels, r.Releaser, r.Time = []uuid.UUID{barrel}, access.From(ctx).Login, a.now()
	if err := a.Store.FreeDrums(ctx, q, r); err != nil {
		return d, nil, err
	}
	found, err := a.compareTare(ctx, q, d, r)
	if err != nil {
		return d, nil, err
	}
	if d, err = a.Store.Drum(ctx, q, tag); err != nil {
		return d, nil, err
	}
	if last := d.LastTare(); last.Weighed {
		if err := a.Store.KeepTare(ctx, q, tag, last); err != nil {
			return d, nil, err
		}
	}
	facts := fact(d.Name(), r.Time, &intakev1.DrumReleased{Drum: a.write().Drum(d), Barrel: domain.Barrel{ID: barrel}.Name()})
	return d, append(facts, found...), nil
}

func (a *App) compareTare(ctx context.Context, q pg.Querier, filled domain.Drum, r domain.Release) ([]feed.Fact, error) {
	v := filled.Variance(r, a.Expect.TarePolicy())
	if v == nil {
		return nil, nil
	}
	if err := a.Store.InsertTareVariance(ctx, q, *v); err != nil {
		return nil, err
	}
	return fact(v.Name(), v.FindTime, &intakev1.TareVarianceFound{Variance: a.write().TareVariance(*v)}), nil
}
