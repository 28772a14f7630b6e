package project

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// Intake applies one fact of the dock: who the members are, what closed tickets hold, and what samples were drawn from.
func (p *Project) Intake(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	switch fact := ev.Payload.(type) {
	case *intakev1.MemberRegistered:
		m := fact.GetMember()
		return nil, p.Tables.KeepMember(ctx, tx, m.GetName(), m.GetDisplayName())
	case *intakev1.SampleDrawn:
		return p.sampleDrawn(ctx, tx, fact)
	case *intakev1.TicketClosed:
		return p.ticketClosed(ctx, tx, fact.GetTicket())
	case *intakev1.TicketVoided:
		return p.ticketVoided(ctx, tx, fact.GetTicket())
	case *intakev1.TicketReissued:
		return p.ticketReissued(ctx, tx, fact)
	default:
		return nil, nil
	}
}

func (p *Project) sampleDrawn(ctx context.Context, tx pgx.Tx, fact *intakev1.SampleDrawn) ([]feed.Fact, error) {
	barrel, err := identity(fact.GetBarrel(), "barrels")
	if err != nil {
		return nil, err
	}
	if err := p.Tables.KeepSample(ctx, tx, fact.GetSample(), barrel); err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, []uuid.UUID{barrel})
}

func (p *Project) ticketClosed(ctx context.Context, tx pgx.Tx, ticket *intakev1.Ticket) ([]feed.Fact, error) {
	barrels, err := p.keep(ctx, tx, ticket)
	if err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, barrels)
}

func (p *Project) ticketVoided(ctx context.Context, tx pgx.Tx, ticket *intakev1.Ticket) ([]feed.Fact, error) {
	id, err := identity(ticket.GetName(), "tickets")
	if err != nil {
		return nil, err
	}
	barrels, err := p.Tables.WithdrawTicket(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, barrels)
}

// ticketReissued moves the barrels to the new ticket first; whatever is then still on the old one counts no more.
func (p *Project) ticketReissued(ctx context.Context, tx pgx.Tx, fact *intakev1.TicketReissued) ([]feed.Fact, error) {
	old, err := identity(fact.GetOldTicket().GetName(), "tickets")
	if err != nil {
		return nil, err
	}
	barrels, err := p.keep(ctx, tx, fact.GetNewTicket())
	if err != nil {
		return nil, err
	}
	left, err := p.Tables.WithdrawTicket(ctx, tx, old)
	if err != nil {
		return nil, err
	}
	return p.settle(ctx, tx, append(barrels, left...))
}

func (p *Project) keep(ctx context.Context, tx pgx.Tx, ticket *intakev1.Ticket) ([]uuid.UUID, error) {
	barrels, ids := make([]domain.Delivered, 0, len(ticket.GetBarrels())), make([]uuid.UUID, 0, len(ticket.GetBarrels()))
	for _, b := range ticket.GetBarrels() {
		d, err := p.delivered(ticket, b)
		if err != nil {
			return nil, fmt.Errorf("ticket %s, line %d: %w", ticket.GetNumber(), b.GetLine(), err)
		}
		barrels, ids = append(barrels, d), append(ids, d.Barrel)
	}
	return ids, p.Tables.KeepBarrels(ctx, tx, barrels)
}

func (p *Project) delivered(ticket *intakev1.Ticket, b *intakev1.Barrel) (domain.Delivered, error) {
	d := domain.Delivered{
		TicketNumber: ticket.GetNumber(), Member: ticket.GetMember(), DrumTag: b.GetDrumTag(), Variety: b.GetVariety(), CropYear: int(ticket.GetCropYear()),
	}
	var err error
	if d.Barrel, err = identity(b.GetName(), "barrels"); err != nil {
		return d, err
	}
	if d.Ticket, err = identity(ticket.GetName(), "tickets"); err != nil {
		return d, err
	}
	if d.Date, err = domain.ParseDate(ticket.GetDeliveryDate()); err != nil {
		return d, fmt.Errorf("delivery date: %w", err)
	}
	if d.Net, err = wire.MassFromProto(b.GetNet(), p.Terms.Unit); err != nil {
		return d, fmt.Errorf("net: %w", err)
	}
	return d, nil
}
