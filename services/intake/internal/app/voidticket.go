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

// RequestTicketVoid asks to withdraw a closed ticket. v carries the reason and, for a reissue, the rightful owner.
func (a *App) RequestTicketVoid(ctx context.Context, q pg.Querier, id uuid.UUID, v domain.Void) (domain.Ticket, []feed.Fact, error) {
	t, err := a.Store.LockTicket(ctx, q, id)
	if err != nil {
		return t, nil, err
	}
	if v.ReissueOwners, err = t.MayRequestVoid(v); err != nil {
		return t, nil, err
	}
	if v.ReissueMember != "" {
		if _, err := a.Store.Member(ctx, q, v.ReissueMember); err != nil {
			return t, nil, err
		}
	}
	if v.ReissueOwners, err = a.named(ctx, q, v.ReissueOwners); err != nil {
		return t, nil, err
	}
	v.Requester, v.RequestTime = access.From(ctx).Login, a.now()
	t.Void = &v
	t.Version++
	if err := a.Store.InsertVoidRequest(ctx, q, t.ID, v); err != nil {
		return t, nil, err
	}
	if err := a.Store.TouchTicket(ctx, q, t); err != nil {
		return t, nil, err
	}
	return t, fact(t.Name(), v.RequestTime, &intakev1.TicketVoidRequested{Ticket: a.write().Ticket(t)}), nil
}

// ApproveTicketVoid carries out the open request and returns the ticket that stands: the reissue, or the voided one.
func (a *App) ApproveTicketVoid(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Ticket, []feed.Fact, error) {
	t, err := a.Store.LockTicket(ctx, q, id)
	if err != nil {
		return t, nil, err
	}
	approver := access.From(ctx).Login
	if err := t.MayApproveVoid(approver); err != nil {
		return t, nil, err
	}
	decided := *t.Void
	decided.Approver, decided.ApproveTime = approver, a.now()
	t.Void, t.State = &decided, decided.Outcome()
	t.Version++
	if err := a.Store.InsertVoidApproval(ctx, q, t.ID, decided); err != nil {
		return t, nil, err
	}
	by := domain.Transition{Actor: approver, Reason: decided.Reason, Time: decided.ApproveTime}
	if t.State == domain.Superseded {
		return a.reissue(ctx, q, t, by)
	}
	if err := a.withdraw(ctx, q, t, by); err != nil {
		return t, nil, err
	}
	return t, fact(t.Name(), by.Time, &intakev1.TicketVoided{Ticket: a.write().Ticket(t)}), nil
}

// reissue lists the same barrels on a new ticket of the rightful owner. Barrels and samples keep their identity, and the
// new ticket stays a delivery of the day it came.
func (a *App) reissue(ctx context.Context, q pg.Querier, old domain.Ticket, by domain.Transition) (domain.Ticket, []feed.Fact, error) {
	owner, err := a.Store.Member(ctx, q, old.Void.ReissueMember)
	if err != nil {
		return old, nil, err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return old, nil, err
	}
	if err := a.Store.EndTicket(ctx, q, old, by); err != nil {
		return old, nil, err
	}
	stands := old.Reissue(id, owner, by.Time)
	if err := a.number(ctx, q, &stands); err != nil {
		return stands, nil, err
	}
	if err := a.Store.InsertTicket(ctx, q, stands); err != nil {
		return stands, nil, err
	}
	if err := a.Store.InsertLines(ctx, q, stands); err != nil {
		return stands, nil, err
	}
	old.SupersededBy = stands.ID
	return stands, fact(old.Name(), by.Time, &intakev1.TicketReissued{
		OldTicket: a.write().Ticket(old), NewTicket: a.write().Ticket(stands),
	}), nil
}
