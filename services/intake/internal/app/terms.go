package app

import (
	"context"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// SetClassTare records the class tare of a type of container.
func (a *App) SetClassTare(ctx context.Context, q pg.Querier, t domain.ClassTare) (domain.ClassTare, []feed.Fact, error) {
	t.Setter, t.SetTime = access.From(ctx).Login, a.now()
	t, err := t.Vet(a.date(t.SetTime), a.Unit)
	if err != nil {
		return t, nil, err
	}
	return t, nil, a.Store.InsertClassTare(ctx, q, &t)
}

// ClassTares are those in force.
func (a *App) ClassTares(ctx context.Context, q pg.Querier) (domain.ClassTares, error) {
	return a.Store.ClassTares(ctx, q)
}

// classTares reads those in force only for a weighing that uses one.
func (a *App) classTares(ctx context.Context, q pg.Querier, k domain.TareKind) (domain.ClassTares, error) {
	if k != domain.TareClass {
		return nil, nil //nolint:nilnil // none are needed
	}
	return a.Store.ClassTares(ctx, q)
}

// SetContainerDeposit records the deposit on a type of container.
func (a *App) SetContainerDeposit(ctx context.Context, q pg.Querier, d domain.Deposit) (domain.Deposit, []feed.Fact, error) {
	d.Setter, d.SetTime = access.From(ctx).Login, a.now()
	d, err := d.Vet(a.date(d.SetTime))
	if err != nil {
		return d, nil, err
	}
	return d, nil, a.Store.InsertDeposit(ctx, q, &d)
}

// Deposits lists all ever laid down.
func (a *App) Deposits(ctx context.Context, q pg.Querier) ([]domain.Deposit, error) {
	return a.Store.Deposits(ctx, q)
}
