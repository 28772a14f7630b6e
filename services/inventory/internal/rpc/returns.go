package rpc

import (
	"context"
	"errors"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
)

var (
	errWholePallet = errors.New("is given beside a pallet: it comes back whole; without its code name each lot")
	errBulkJars    = errors.New("are given for bulk honey, which is weighed")
	errLotWeighed  = errors.New("is given for jars: what they weigh is known from their lot")
	errNotPoured   = errors.New("is given where nothing is poured into a tank")
)

// ReceiveReturn records what a customer sent back.
func (s *Server) ReceiveReturn(ctx context.Context, req *inventoryv1.ReceiveReturnRequest) (*inventoryv1.ReceiveReturnResponse, error) {
	r := s.reader()
	c := app.ReceiveReturn{Jars: req.GetJars(), Reason: req.GetReason(), Actor: access.From(ctx).Login}
	if req.GetPallet() == "" {
		c.Shipment = r.id("shipment", "shipments", req.GetShipment())
		r.comesBack(req, &c)
	} else {
		c.Shipment = r.optionalID("shipment", "shipments", req.GetShipment())
		c.Pallet = r.word("pallet", "pallets", req.GetPallet())
		if req.GetPlace() != "" || req.GetJars() > 0 || req.GetMass() != nil {
			r.note("place", errWholePallet)
		}
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	if c.Of.Kind() == lots.Pack {
		lot, err := s.app.Run(ctx, c.Of.ID())
		if err != nil {
			return nil, err
		}
		c.Of = lot.Place()
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.ReceiveReturnResponse, []feed.Fact, error) {
		made, facts, err := s.app.ReceiveReturn(ctx, tx, c)
		answer := &inventoryv1.ReceiveReturnResponse{}
		for _, one := range made {
			answer.Returns = append(answer.Returns, present.Return(one, s.app.Unit))
		}
		return answer, facts, err
	})
}

// comesBack reads which lot, barrel or charge it is, and how much.
func (r *reader) comesBack(req *inventoryv1.ReceiveReturnRequest, c *app.ReceiveReturn) {
	if lots.Place(req.GetPlace()).Kind() != lots.Pack {
		c.Of, c.Mass = r.warmed("place", req.GetPlace()), r.optionalMass("mass", req.GetMass())
		if req.GetJars() > 0 {
			r.note("jars", errBulkJars)
		}
		return
	}
	if req.GetMass() != nil {
		r.note("mass", errLotWeighed)
	}
	c.Of = lots.At(lots.Pack, r.word("place", "packLots", req.GetPlace()))
}

// DecideReturn restocks or destroys what came back.
func (s *Server) DecideReturn(ctx context.Context, req *inventoryv1.DecideReturnRequest) (*inventoryv1.CustomerReturn, error) {
	r := s.reader()
	c := app.DecideReturn{
		Return: r.id("name", "returns", req.GetName()), Charge: r.optionalID("charge", "charges", req.GetCharge()),
		Decision: lots.Decision{
			Outcome: strings.TrimPrefix(req.GetOutcome().String(), present.ReturnOutcomePrefix), Jars: req.GetJars(), Mass: r.optionalMass("mass", req.GetMass()),
			Reason: req.GetReason(), Decider: access.From(ctx).Login,
		},
	}
	if c.Charge != uuid.Nil && c.Decision.Outcome != lots.Restocked {
		r.note("charge", errNotPoured)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.CustomerReturn, []feed.Fact, error) {
		made, facts, err := s.app.DecideReturn(ctx, tx, c)
		return present.Return(made, s.app.Unit), facts, err
	})
}

// GetReturn reads one return.
func (s *Server) GetReturn(ctx context.Context, req *inventoryv1.GetReturnRequest) (*inventoryv1.CustomerReturn, error) {
	id, err := parseName("name", "returns", req.GetName())
	if err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Return(ctx, s.app.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	return present.Return(found, s.app.Unit), nil
}

// ListReturns lists returns.
func (s *Server) ListReturns(ctx context.Context, req *inventoryv1.ListReturnsRequest) (*inventoryv1.ListReturnsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	r := s.reader()
	f := app.ReturnFilter{Waiting: req.GetWaitingOnly(), Shipment: r.optionalID("shipment", "shipments", req.GetShipment())}
	if err := r.err(); err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Returns(ctx, s.app.DB.Pool(), f, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListReturnsResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last lots.Return) any { return last.Number })
	for _, one := range found {
		answer.Returns = append(answer.Returns, present.Return(one, s.app.Unit))
	}
	return answer, nil
}
