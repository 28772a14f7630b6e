package rpc

import (
	"context"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// OpenTicket begins a delivery.
func (s *Server) OpenTicket(ctx context.Context, req *intakev1.OpenTicketRequest) (*intakev1.Ticket, error) {
	var f fields
	t := domain.Ticket{
		ID: f.optionalID("ticket_id", req.GetTicketId()), Member: f.member("member", req.GetMember()),
		CropYear: int(req.GetCropYear()), Hauler: req.GetHauler(), HarvestDeclared: req.GetHarvestDeclared(),
		OpenTime: instant(req.GetOpenTime()), Owners: f.owners("owners", req.GetOwners()),
		Vehicle: req.GetVehicle(), YardRegion: req.GetYardRegion(), Remarks: req.GetRemarks(),
	}
	for _, c := range req.GetClaims() {
		t.Claims = append(t.Claims, domain.Claim{Text: c.GetClaim(), Certificate: c.GetCertificate()})
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Ticket, []feed.Fact, error) {
		return s.app.OpenTicket(ctx, tx, t)
	}, s.write.Ticket)
}

// GetTicket returns a ticket with its barrels.
func (s *Server) GetTicket(ctx context.Context, req *intakev1.GetTicketRequest) (*intakev1.Ticket, error) {
	var f fields
	id := f.id("name", "tickets", req.GetName())
	if err := f.err(); err != nil {
		return nil, err
	}
	t, err := s.app.Ticket(ctx, s.db.Pool(), id)
	if err != nil {
		return nil, err
	}
	return s.write.Ticket(t), nil
}

// ListTickets lists tickets, newest number first.
func (s *Server) ListTickets(ctx context.Context, req *intakev1.ListTicketsRequest) (*intakev1.ListTicketsResponse, error) {
	filter, err := ticketFilter(req)
	if err != nil {
		return nil, err
	}
	found, more, err := s.app.Tickets(ctx, s.db.Pool(), filter)
	if err != nil {
		return nil, err
	}
	answer := &intakev1.ListTicketsResponse{}
	for _, t := range found {
		answer.Tickets = append(answer.Tickets, s.write.Ticket(t))
	}
	if more {
		answer.NextPageToken = page.Encode(found[len(found)-1].Number, req)
	}
	return answer, nil
}

func ticketFilter(req *intakev1.ListTicketsRequest) (domain.TicketFilter, error) {
	var f fields
	filter := domain.TicketFilter{State: message.State(req.GetState())}
	if req.GetMember() != "" {
		filter.Member = f.member("member", req.GetMember())
	}
	if err := f.err(); err != nil {
		return filter, err
	}
	var err error
	if filter.Limit, err = page.Size(req.GetPageSize()); err != nil {
		return filter, err
	}
	return filter, page.Decode(req.GetPageToken(), req, &filter.Before)
}

// named is a request about one ticket.
type named interface {
	idem.Request
	GetName() string
}

type ticketCommand func(ctx context.Context, tx pg.Querier, id uuid.UUID) (domain.Ticket, []feed.Fact, error)

func (s *Server) onTicket(ctx context.Context, req named, run ticketCommand) (*intakev1.Ticket, error) {
	var f fields
	id := f.id("name", "tickets", req.GetName())
	if err := f.err(); err != nil {
		return nil, err
	}
	return once(ctx, s, req, func(ctx context.Context, tx pg.Querier) (domain.Ticket, []feed.Fact, error) {
		return run(ctx, tx, id)
	}, s.write.Ticket)
}

// CloseTicket ends a delivery.
func (s *Server) CloseTicket(ctx context.Context, req *intakev1.CloseTicketRequest) (*intakev1.Ticket, error) {
	return s.onTicket(ctx, req, func(ctx context.Context, tx pg.Querier, id uuid.UUID) (domain.Ticket, []feed.Fact, error) {
		return s.app.CloseTicket(ctx, tx, id, domain.Closing{Counted: int(req.GetBarrelCount()), ETag: req.GetEtag(), Driver: req.GetDriver()})
	})
}

// DeclareHarvest records that a declaration was handed in late.
func (s *Server) DeclareHarvest(ctx context.Context, req *intakev1.DeclareHarvestRequest) (*intakev1.Ticket, error) {
	return s.onTicket(ctx, req, func(ctx context.Context, tx pg.Querier, id uuid.UUID) (domain.Ticket, []feed.Fact, error) {
		return s.app.DeclareHarvest(ctx, tx, id, req.GetNote())
	})
}

// CancelTicket gives up an open ticket.
func (s *Server) CancelTicket(ctx context.Context, req *intakev1.CancelTicketRequest) (*intakev1.Ticket, error) {
	return s.onTicket(ctx, req, func(ctx context.Context, tx pg.Querier, id uuid.UUID) (domain.Ticket, []feed.Fact, error) {
		return s.app.CancelTicket(ctx, tx, id, req.GetReason())
	})
}

// RequestTicketVoid asks to withdraw a closed ticket.
func (s *Server) RequestTicketVoid(ctx context.Context, req *intakev1.RequestTicketVoidRequest) (*intakev1.Ticket, error) {
	var f fields
	v := domain.Void{Reason: req.GetReason(), ReissueOwners: f.owners("reissue_owners", req.GetReissueOwners())}
	if req.GetReissueMember() != "" {
		v.ReissueMember = f.member("reissue_member", req.GetReissueMember())
	}
	if err := f.err(); err != nil {
		return nil, err
	}
	return s.onTicket(ctx, req, func(ctx context.Context, tx pg.Querier, id uuid.UUID) (domain.Ticket, []feed.Fact, error) {
		return s.app.RequestTicketVoid(ctx, tx, id, v)
	})
}

// ApproveTicketVoid decides the open request.
func (s *Server) ApproveTicketVoid(ctx context.Context, req *intakev1.ApproveTicketVoidRequest) (*intakev1.Ticket, error) {
	return s.onTicket(ctx, req, s.app.ApproveTicketVoid)
}
