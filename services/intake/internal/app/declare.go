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

// DeclareHarvest records that the declaration of a ticket came late.
func (a *App) DeclareHarvest(ctx context.Context, q pg.Querier, id uuid.UUID, note string) (domain.Ticket, []feed.Fact, error) {
	t, err := a.Store.LockTicket(ctx, q, id)
	if err != nil {
		return t, nil, err
	}
	if err := t.MayDeclare(); err != nil {
		return t, nil, err
	}
	t.LateDeclareTime = a.now()
	t.Version++
	if err := a.Store.InsertDeclaration(ctx, q, t, access.From(ctx).Login, note); err != nil {
		return t, nil, err
	}
	if err := a.Store.TouchTicket(ctx, q, t); err != nil {
		return t, nil, err
	}
	return t, fact(t.Name(), t.LateDeclareTime, &intakev1.HarvestDeclared{Ticket: a.write().Ticket(t), Note: note}), nil
}
