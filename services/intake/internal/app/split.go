package app

import (
	"context"
	"slices"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// SetStandingSplit records who owns the deliveries of a member from a date on.
func (a *App) SetStandingSplit(ctx context.Context, q pg.Querier, s domain.StandingSplit) (domain.StandingSplit, []feed.Fact, error) {
	s.Setter, s.SetTime = access.From(ctx).Login, a.now()
	if err := s.Vet(a.date(s.SetTime)); err != nil {
		return s, nil, err
	}
	owners, err := domain.SplitAmong("owners", s.Member, s.Owners)
	if err != nil {
		return s, nil, err
	}
	m, err := a.Store.Member(ctx, q, s.Member)
	if err != nil {
		return s, nil, err
	}
	if s.Owners, err = a.named(ctx, q, owners); err != nil {
		return s, nil, err
	}
	if err := a.Store.InsertSplit(ctx, q, &s); err != nil {
		return s, nil, err
	}
	return s, fact(m.Name(), s.SetTime, &intakev1.StandingSplitSet{Split: a.write().StandingSplit(s)}), nil
}

// StandingSplits lists a page, newest first, and reports whether more follow.
func (a *App) StandingSplits(ctx context.Context, q pg.Querier, member string, before int64, size int) ([]domain.StandingSplit, bool, error) {
	if _, err := a.Store.Member(ctx, q, member); err != nil {
		return nil, false, err
	}
	found, err := a.Store.Splits(ctx, q, member, before, withNext(size))
	page, more := cut(found, size)
	return page, more, err
}

// owners are those named for a delivery, or else those the member agreed on for its date.
func (a *App) owners(ctx context.Context, q pg.Querier, t domain.Ticket) (domain.Owners, error) {
	if len(t.Owners) > 0 {
		asked, err := domain.SplitAmong("owners", t.Member, t.Owners)
		if err != nil {
			return nil, err
		}
		return a.named(ctx, q, asked)
	}
	s, err := a.Store.SplitOn(ctx, q, t.Member, t.DeliveryDate)
	return s.Owners, err
}

// named adds the owners' names; an owner nobody registered is NOT_FOUND.
func (a *App) named(ctx context.Context, q pg.Querier, owners domain.Owners) (domain.Owners, error) {
	owners = slices.Clone(owners)
	for i := range owners {
		m, err := a.Store.Member(ctx, q, owners[i].Member)
		if err != nil {
			return nil, err
		}
		owners[i].Name = m.DisplayName
	}
	return owners, nil
}
