package app

import (
	"context"
	"slices"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// CloseTicket ends a delivery.
func (a *App) CloseTicket(ctx context.Context, q pg.Querier, id uuid.UUID, said domain.Closing) (domain.Ticket, []feed.Fact, error) {
	if err := a.Store.LockScalesOfTicket(ctx, q, id); err != nil {
		return domain.Ticket{}, nil, err
	}
	t, err := a.Store.LockTicket(ctx, q, id)
	if err != nil {
		return t, nil, err
	}
	if err := t.Matches(said.ETag); err != nil {
		return t, nil, err
	}
	rejects, err := a.Store.Rejects(ctx, q, id)
	if err != nil {
		return t, nil, err
	}
	t.Rejects = len(rejects)
	if err := t.MayClose(said.Counted); err != nil {
		return t, nil, err
	}
	now := a.now()
	scales, err := a.checkedScales(ctx, q, t, a.date(now))
	if err != nil {
		return t, nil, err
	}
	t.State, t.CloseTime, t.Driver = domain.Closed, now, said.Driver
	t.Version++
	if err := a.Store.EndTicket(ctx, q, t, domain.Transition{Actor: access.From(ctx).Login, Time: now}); err != nil {
		return t, nil, err
	}
	if err := a.Store.SignTicket(ctx, q, t); err != nil {
		return t, nil, err
	}
	if err := a.Store.InsertTicketChecks(ctx, q, t.ID, scales); err != nil {
		return t, nil, err
	}
	return t, fact(t.Name(), now, &intakev1.TicketClosed{Ticket: a.write().Ticket(t)}), nil
}

// checkedScales reads the scales a ticket was weighed on and refuses when one of them may not be believed today.
func (a *App) checkedScales(ctx context.Context, q pg.Querier, t domain.Ticket, today string) ([]domain.Scale, error) {
	var ids []string
	for _, b := range t.Barrels {
		ids = append(ids, b.Scale)
	}
	slices.Sort(ids)
	scales, err := a.Store.ScalesByID(ctx, q, slices.Compact(ids))
	if err != nil {
		return nil, err
	}
	for _, s := range scales {
		if err := s.MayClose(today); err != nil {
			return nil, err
		}
	}
	return scales, nil
}

// CancelTicket gives up an open ticket: its number stays used, its drums are free again.
func (a *App) CancelTicket(ctx context.Context, q pg.Querier, id uuid.UUID, reason string) (domain.Ticket, []feed.Fact, error) {
	t, err := a.Store.LockTicket(ctx, q, id)
	if err != nil {
		return t, nil, err
	}
	if err := t.MayChange(); err != nil {
		return t, nil, err
	}
	by := domain.Transition{Actor: access.From(ctx).Login, Reason: reason, Time: a.now()}
	t.State = domain.Cancelled
	t.Version++
	if err := a.withdraw(ctx, q, t, by); err != nil {
		return t, nil, err
	}
	return t, fact(t.Name(), by.Time, &intakev1.TicketCancelled{Ticket: a.write().Ticket(t)}), nil
}

// withdraw ends a ticket without a successor.
func (a *App) withdraw(ctx context.Context, q pg.Querier, t domain.Ticket, by domain.Transition) error {
	if err := a.Store.EndTicket(ctx, q, t, by); err != nil {
		return err
	}
	freed := domain.Release{Reason: "ticket " + t.Number.String() + " withdrawn: " + by.Reason, Releaser: by.Actor, Time: by.Time}
	for _, b := range t.Barrels {
		freed.Barrels = append(freed.Barrels, b.ID)
	}
	return a.Store.FreeDrums(ctx, q, freed)
}
