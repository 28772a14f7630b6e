package app

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// CreateMember registers a member; an empty JoinDate is today.
func (a *App) CreateMember(ctx context.Context, q pg.Querier, m domain.Member) (domain.Member, []feed.Fact, error) {
	m.Creator, m.CreateTime = access.From(ctx).Login, a.now()
	if m.JoinDate == "" {
		m.JoinDate = a.date(m.CreateTime)
	}
	if err := m.Validate(); err != nil {
		return m, nil, err
	}
	if err := a.Store.InsertMember(ctx, q, m); err != nil {
		return m, nil, err
	}
	return m, fact(m.Name(), m.CreateTime, &intakev1.MemberRegistered{Member: a.write().Member(m)}), nil
}

// Member reads a member the caller may see.
func (a *App) Member(ctx context.Context, q pg.Querier, number string) (domain.Member, error) {
	m := domain.Member{Number: number}
	if !access.SeesMember(ctx, m.Name()) {
		return m, domain.NotFound(m.Name())
	}
	return a.Store.Member(ctx, q, number)
}

// Members lists a page by number and reports whether more follow.
func (a *App) Members(ctx context.Context, q pg.Querier, after string, size int) ([]domain.Member, bool, error) {
	found, err := a.Store.Members(ctx, q, after, withNext(size))
	page, more := cut(found, size)
	return page, more, err
}

// cut takes the one too many off a page.
func cut[T any](rows []T, size int) ([]T, bool) {
	if len(rows) > size {
		return rows[:size], true
	}
	return rows, false
}
