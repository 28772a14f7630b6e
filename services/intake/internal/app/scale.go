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

// CreateScale enters a scale.
func (a *App) CreateScale(ctx context.Context, q pg.Querier, s domain.Scale) (domain.Scale, []feed.Fact, error) {
	s.LastCheck, s.Creator, s.CreateTime = nil, access.From(ctx).Login, a.now()
	if err := s.Validate(a.Unit); err != nil {
		return s, nil, err
	}
	return s, nil, a.Store.InsertScale(ctx, q, s)
}

// Scales lists all with the newest check of each.
func (a *App) Scales(ctx context.Context, q pg.Querier) ([]domain.Scale, error) {
	return a.Store.Scales(ctx, q)
}

// Today is the cooperative's local date.
func (a *App) Today() string { return a.date(a.now()) }

// RecordScaleCheck judges a trial and keeps it, passed or not.
func (a *App) RecordScaleCheck(ctx context.Context, q pg.Querier, c domain.Check) (domain.Check, []feed.Fact, error) {
	if err := a.Store.LockScaleForCheck(ctx, q, c.Scale); err != nil {
		return c, nil, err
	}
	s, err := a.Store.Scale(ctx, q, c.Scale)
	if err != nil {
		return c, nil, err
	}
	if err := s.Judge(&c, a.Unit); err != nil {
		return c, nil, err
	}
	// Taken under the lock, so the times of a scale's checks follow their numbers.
	c.ID, c.Checker, c.Time = uuid.New(), access.From(ctx).Login, a.now()
	c.Date = a.date(c.Time)
	if err := a.Store.InsertCheck(ctx, q, &c); err != nil {
		return c, nil, err
	}
	facts := fact(s.Name(), c.Time, &intakev1.ScaleChecked{Scale: s.Name(), Check: a.write().Check(&c)})
	if c.Passed {
		return c, facts, nil
	}
	review, err := a.review(ctx, q, s, c)
	return c, append(facts, review...), err
}

// review opens a review of what was weighed since the check before a failed one. The scale is locked, so no barrel slips
// in between; and since nothing is weighed after a failed check, no barrel comes under two reviews for one reason.
func (a *App) review(ctx context.Context, q pg.Querier, s domain.Scale, failed domain.Check) ([]feed.Fact, error) {
	doubts, err := a.Store.Doubts(ctx, q, failed)
	if err != nil || len(doubts) == 0 {
		return nil, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return nil, err
	}
	r := domain.ScaleReview{ID: id, Failed: failed, OpenTime: failed.Time, Doubts: doubts}
	if s.LastCheck != nil {
		r.SinceTime = s.LastCheck.Time
	}
	if err := a.Store.InsertReview(ctx, q, r); err != nil {
		return nil, err
	}
	return fact(r.Name(), r.OpenTime, &intakev1.ScaleReviewOpened{Review: a.write().ScaleReview(r)}), nil
}
