package rpc

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
)

// PlaceHold blocks a barrel.
func (s *Server) PlaceHold(ctx context.Context, req *inventoryv1.PlaceHoldRequest) (*inventoryv1.Hold, error) {
	place, err := s.holdable(req)
	if err != nil {
		return nil, err
	}
	c := app.PlaceHold{Place: place, Code: present.CodeOf(req.GetCode()), Reason: req.GetReason(), Placer: access.From(ctx).Login}
	return idem.Do(ctx, s.app.DB, s.app.Clock, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Hold, []feed.Fact, error) {
		h, facts, err := s.app.PlaceHold(ctx, tx, c)
		return present.Hold(h), facts, err
	})
}

func (s *Server) holdable(req *inventoryv1.PlaceHoldRequest) (lots.Place, error) {
	r := s.reader()
	var place lots.Place
	switch name := req.GetPlace(); {
	case (name == "") == (req.GetStockItem() == ""):
		r.note("stock_item", errors.New("or place must be given, and not both"))
	case name == "":
		place = lots.Of(lots.Barrel, r.id("stock_item", "stock", req.GetStockItem()))
	case lots.Place(name).Kind() == lots.Pack:
		place = lots.Of(lots.Pack, r.id("place", "packLots", name))
	default:
		place = lots.Of(lots.Charge, r.id("place", "charges", name))
	}
	return place, r.err()
}

// ReleaseHold ends a hold.
func (s *Server) ReleaseHold(ctx context.Context, req *inventoryv1.ReleaseHoldRequest) (*inventoryv1.Hold, error) {
	hold, err := parseName("name", "holds", req.GetName())
	if err != nil {
		return nil, err
	}
	c := app.ReleaseHold{Hold: hold, Reason: req.GetReason(), Releaser: access.From(ctx).Login}
	return idem.Do(ctx, s.app.DB, s.app.Clock, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Hold, []feed.Fact, error) {
		h, facts, err := s.app.ReleaseHold(ctx, tx, c)
		return present.Hold(h), facts, err
	})
}

// ListHolds lists holds.
func (s *Server) ListHolds(ctx context.Context, req *inventoryv1.ListHoldsRequest) (*inventoryv1.ListHoldsResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	var after *app.HoldKey
	if err := page.Decode(req.GetPageToken(), req, &after); err != nil {
		return nil, err
	}
	holds, err := s.app.Holds(ctx, req.GetOpenOnly(), after, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListHoldsResponse{}
	holds, answer.NextPageToken = page.Cut(holds, size, req, func(last stock.Hold) any { return app.HoldKey{Time: last.Time, ID: last.ID} })
	for _, h := range holds {
		answer.Holds = append(answer.Holds, present.Hold(h))
	}
	return answer, nil
}
