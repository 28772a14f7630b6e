package project

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// Intake applies one fact of the dock: who the members are, what closed tickets hold, what samples were drawn from, and what
// became known of weights later.
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
	case *intakev1.ScaleReviewOpened:
		return nil, p.weightsDoubted(ctx, tx, fact.GetReview())
	case *intakev1.ScaleReviewResolved:
		return p.weightsTrusted(ctx, tx, fact.GetReview())
	case *intakev1.BarrelReweighed:
		return p.reweighed(ctx, tx, fact.GetReweigh())
	case *intakev1.TareVarianceFound:
		return p.tareFound(ctx, tx, fact.GetVariance())
	case *intakev1.ContainersMoved:
		return p.containersMoved(ctx, tx, fact)
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
	barrels, ids := make([]domain.Weighed, 0, len(ticket.GetBarrels())), make([]uuid.UUID, 0, len(ticket.GetBarrels()))
	for _, b := range ticket.GetBarrels() {
		d, err := p.delivered(ticket, b)
		if err != nil {
			return nil, fmt.Errorf("ticket %s, line %d: %w", ticket.GetNumber(), b.GetLine(), err)
		}
		barrels, ids = append(barrels, d), append(ids, d.Barrel)
	}
	return ids, p.Tables.KeepBarrels(ctx, tx, barrels)
}

func (p *Project) delivered(ticket *intakev1.Ticket, b *intakev1.Barrel) (domain.Weighed, error) {
	d := domain.Weighed{Delivered: domain.Delivered{
		TicketNumber: ticket.GetNumber(), Member: ticket.GetMember(), DrumTag: b.GetDrumTag(), Variety: b.GetVariety(), CropYear: int(ticket.GetCropYear()),
	}}
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
	if b.GetGross() != nil && b.GetTare() != nil {
		if err := p.masses(map[*quantity.Mass]*typev1.Mass{&d.Gross: b.GetGross(), &d.Tare: b.GetTare()}); err != nil {
			return d, err
		}
	}
	d.Owners, err = owners(ticket)
	return d, err
}

// owners are the parts of a shared delivery by member number, the order in which odd cents are placed everywhere.
func owners(ticket *intakev1.Ticket) ([]domain.Owner, error) {
	if len(ticket.GetOwners()) < 2 {
		return nil, nil
	}
	out := make([]domain.Owner, 0, len(ticket.GetOwners()))
	var sum int64
	for _, o := range ticket.GetOwners() {
		share, err := quantity.ParseFixed(o.GetSharePercent(), 4)
		if err != nil {
			return nil, fmt.Errorf("share of %s: %w", o.GetMember(), err)
		}
		sum += share
		out = append(out, domain.Owner{Member: o.GetMember(), Share: share})
	}
	if sum != domain.WholeShare {
		return nil, fmt.Errorf("the shares come to %s %%", quantity.FormatFixed(sum, 4, 0))
	}
	slices.SortFunc(out, func(a, b domain.Owner) int { return cmp.Compare(a.Member, b.Member) })
	return out, nil
}
