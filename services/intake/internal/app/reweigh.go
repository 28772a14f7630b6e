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

// ReweighBarrel records that a barrel was weighed again, and which weight counts from now on.
func (a *App) ReweighBarrel(ctx context.Context, q pg.Querier, barrel uuid.UUID, r domain.Reweigh) (domain.Reweigh, []feed.Fact, error) {
	m, err := a.rematch(ctx, q, barrel, r.Scale)
	if err != nil {
		return r, nil, err
	}
	r.Weigher, r.Time = access.From(ctx).Login, a.now()
	shown := domain.Weighing{Gross: r.Gross, RawIndication: r.RawIndication, Stable: r.Stable, Manual: r.Manual}
	if shown, err = a.fromScale(ctx, q, shown, r.Scale, r.Capture, r.Time, false); err != nil {
		return r, nil, err
	}
	r.Gross, r.RawIndication, r.Stable = shown.Gross, shown.RawIndication, shown.Stable
	if r, err = m.Judge(r, a.Unit, a.Zone); err != nil {
		return r, nil, err
	}
	if err := a.Store.InsertReweigh(ctx, q, r); err != nil {
		return r, nil, err
	}
	return r, fact(m.Barrel.Name(), r.Time, &intakev1.BarrelReweighed{Reweigh: a.write().Reweigh(r), Ticket: m.Ticket.Name()}), nil
}

// rematch reads what a re-weigh meets, under locks: against a decision on its review, a check of its scale and the emptying
// of its drum.
func (a *App) rematch(ctx context.Context, q pg.Querier, barrel uuid.UUID, scale string) (domain.Rematch, error) {
	m := domain.Rematch{Days: a.ReweighDays}
	found, err := a.Store.Barrel(ctx, q, barrel)
	if err != nil {
		return m, err
	}
	for _, lock := range []func() error{
		func() error { return a.Store.LockReviews(ctx, q, false) },
		func() error { return a.Store.LockScaleForWeighing(ctx, q, scale) },
		func() error { return a.Store.LockDrum(ctx, q, found.DrumTag) },
	} {
		if err := lock(); err != nil {
			return m, err
		}
	}
	for _, read := range []func() error{
		func() (err error) { m.Scale, err = a.Store.Scale(ctx, q, scale); return err },
		func() (err error) { m.Barrel, err = a.Store.Barrel(ctx, q, barrel); return err },
		func() (err error) { m.Ticket, err = a.Store.TicketHead(ctx, q, m.Barrel.Ticket); return err },
		func() (err error) { m.Earlier, err = a.Store.Reweighs(ctx, q, m.Barrel); return err },
		func() (err error) { m.InReview, err = a.Store.InOpenReview(ctx, q, barrel); return err },
	} {
		if err := read(); err != nil {
			return m, err
		}
	}
	return m, nil
}

// Reweighs lists those of a barrel the caller may see.
func (a *App) Reweighs(ctx context.Context, q pg.Querier, barrel uuid.UUID) (domain.Reweighs, error) {
	b, err := a.Barrel(ctx, q, barrel)
	if err != nil {
		return nil, err
	}
	return a.Store.Reweighs(ctx, q, b)
}

// ResolveScaleReview decides about every barrel of a review.
func (a *App) ResolveScaleReview(ctx context.Context, q pg.Querier, id uuid.UUID, by domain.Accepting) (domain.ScaleReview, []feed.Fact, error) {
	if err := a.Store.LockReviews(ctx, q, true); err != nil {
		return domain.ScaleReview{}, nil, err
	}
	r, err := a.Store.Review(ctx, q, id)
	if err != nil {
		return r, nil, err
	}
	suspects, err := a.Store.Suspects(ctx, q, r)
	if err != nil {
		return r, nil, err
	}
	if r, err = r.Resolve(suspects, by, access.From(ctx).Login, a.now()); err != nil {
		return r, nil, err
	}
	if err := a.Store.InsertResolution(ctx, q, r); err != nil {
		return r, nil, err
	}
	return r, fact(r.Name(), r.ResolveTime, &intakev1.ScaleReviewResolved{Review: a.write().ScaleReview(r)}), nil
}
