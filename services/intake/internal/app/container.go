package app

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/wire"
)

// RecordContainerMove records containers given out, come back or lost, and returns the account after it.
func (a *App) RecordContainerMove(ctx context.Context, q pg.Querier, m domain.ContainerMove) (domain.ContainerAccount, []feed.Fact, error) {
	var none domain.ContainerAccount
	owner, err := a.Store.Member(ctx, q, m.Member)
	if err != nil {
		return none, nil, err
	}
	if err := a.Store.LockContainers(ctx, q, m.Member); err != nil {
		return none, nil, err
	}
	before, err := a.Store.Containers(ctx, q, m.Member)
	if err != nil {
		return none, nil, err
	}
	if err := before.MayMove(m); err != nil {
		return none, nil, err
	}
	m.Recorder, m.Time = access.From(ctx).Login, a.now()
	if m, err = a.charge(ctx, q, before, m); err != nil {
		return none, nil, err
	}
	if err := a.Store.InsertContainerMove(ctx, q, &m); err != nil {
		return none, nil, err
	}
	after, err := a.Store.Containers(ctx, q, m.Member)
	return after, fact(owner.Name(), m.Time, &intakev1.ContainersMoved{
		Move: a.write().ContainerMove(m), Balance: a.write().ContainerBalance(after.Of(m.Container)),
		DepositTotal: wire.MoneyToProto(after.Deposit(), a.Currency),
	}), err
}

// charge says what a move does to the member's deposits.
func (a *App) charge(ctx context.Context, q pg.Querier, before domain.ContainerAccount, m domain.ContainerMove) (domain.ContainerMove, error) {
	rate, err := a.Store.DepositOn(ctx, q, m.Container, a.date(m.Time))
	if err != nil {
		return m, err
	}
	lots, err := a.Store.Lots(ctx, q, m.Member, m.Container)
	return before.Of(m.Container).Charge(m, rate, lots), err
}

// Containers reads the account of a member the caller may see.
func (a *App) Containers(ctx context.Context, q pg.Querier, member string) (domain.ContainerAccount, error) {
	if _, err := a.Member(ctx, q, member); err != nil {
		return domain.ContainerAccount{}, err
	}
	return a.Store.Containers(ctx, q, member)
}
