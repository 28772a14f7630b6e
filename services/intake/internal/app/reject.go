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

// RejectBarrel notes that a barrel of an open ticket was not taken in.
func (a *App) RejectBarrel(ctx context.Context, q pg.Querier, r domain.Reject) (domain.Reject, []feed.Fact, error) {
	t, err := a.Store.LockTicket(ctx, q, r.Ticket)
	if err != nil {
		return r, nil, err
	}
	if err := t.MayChange(); err != nil {
		return r, nil, err
	}
	if r.ID, err = uuid.NewV7(); err != nil {
		return r, nil, err
	}
	r.Rejecter, r.Time = access.From(ctx).Login, a.now()
	t.Version++
	if err := a.Store.InsertReject(ctx, q, r); err != nil {
		return r, nil, err
	}
	if err := a.Store.TouchTicket(ctx, q, t); err != nil {
		return r, nil, err
	}
	return r, fact(r.Name(), r.Time, &intakev1.BarrelRejected{
		RejectedBarrel: a.write().Reject(r), Member: domain.Member{Number: t.Member}.Name(),
	}), nil
}

// RecordRejectExit records how a rejected barrel left. by carries the fate and the note.
func (a *App) RecordRejectExit(ctx context.Context, q pg.Querier, by domain.Reject) (domain.Reject, []feed.Fact, error) {
	r, err := a.Store.LockReject(ctx, q, by.ID)
	if err != nil {
		return r, nil, err
	}
	if err := r.MayLeave(); err != nil {
		return r, nil, err
	}
	r.Fate, r.ExitNote, r.Recorder, r.ExitTime = by.Fate, by.ExitNote, access.From(ctx).Login, a.now()
	if err := a.Store.InsertRejectExit(ctx, q, r); err != nil {
		return r, nil, err
	}
	return r, fact(r.Name(), r.ExitTime, &intakev1.RejectedBarrelLeft{RejectedBarrel: a.write().Reject(r)}), nil
}

// Rejects lists those of a ticket the caller may see.
func (a *App) Rejects(ctx context.Context, q pg.Querier, ticket uuid.UUID) ([]domain.Reject, error) {
	t, err := a.Store.TicketHead(ctx, q, ticket)
	if err != nil {
		return nil, err
	}
	if !sees(ctx, t) {
		return nil, domain.NotFound(t.Name())
	}
	return a.Store.Rejects(ctx, q, ticket)
}
