package app

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// RegisterDrum says what a drum is and whose. said carries tag, container, ownership and owner.
func (a *App) RegisterDrum(ctx context.Context, q pg.Querier, said domain.Asset) (domain.Drum, []feed.Fact, error) {
	if err := said.Validate(); err != nil {
		return domain.Drum{}, nil, err
	}
	if said.Owner != "" {
		if _, err := a.Store.Member(ctx, q, said.Owner); err != nil {
			return domain.Drum{}, nil, err
		}
	}
	if err := a.Store.LockDrum(ctx, q, said.Tag); err != nil {
		return domain.Drum{}, nil, err
	}
	known, err := a.Store.Asset(ctx, q, said.Tag)
	if err != nil {
		return domain.Drum{}, nil, err
	}
	if err := known.MayRegister(); err != nil {
		return domain.Drum{}, nil, err
	}
	said.RegisterTime = a.now()
	if err := a.Store.RegisterDrum(ctx, q, said, access.From(ctx).Login); err != nil {
		return domain.Drum{}, nil, err
	}
	d, err := a.Store.Drum(ctx, q, said.Tag)
	return d, fact(d.Name(), said.RegisterTime, &intakev1.DrumRegistered{Drum: a.write().Drum(d)}), err
}

// RetireDrum takes an empty drum out of use.
func (a *App) RetireDrum(ctx context.Context, q pg.Querier, tag, reason string) (domain.Drum, []feed.Fact, error) {
	if err := a.Store.LockDrum(ctx, q, tag); err != nil {
		return domain.Drum{}, nil, err
	}
	d, err := a.Store.Drum(ctx, q, tag)
	if err != nil {
		return d, nil, err
	}
	if err := d.MayRetire(); err != nil {
		return d, nil, err
	}
	d.Asset.RetireTime, d.Asset.RetireReason = a.now(), reason
	if err := a.Store.RetireDrum(ctx, q, d.Asset, access.From(ctx).Login); err != nil {
		return d, nil, err
	}
	return d, fact(d.Name(), d.Asset.RetireTime, &intakev1.DrumRetired{Drum: a.write().Drum(d)}), nil
}

// Drums lists a page by tag, of one owner or all, and reports whether more follow.
func (a *App) Drums(ctx context.Context, q pg.Querier, owner, after string, size int) ([]domain.Drum, bool, error) {
	found, err := a.Store.Drums(ctx, q, owner, after, withNext(size))
	page, more := cut(found, size)
	return page, more, err
}
