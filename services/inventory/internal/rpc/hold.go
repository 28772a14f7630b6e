package rpc

import (
	"context"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
)

// PlaceHold blocks a barrel.
func (s *Server) PlaceHold(ctx context.Context, req *inventoryv1.PlaceHoldRequest) (*inventoryv1.Hold, error) {
	barrel, err := parseName("stock_item", "stock", req.GetStockItem())
	if err != nil {
		return nil, err
	}
	c := app.PlaceHold{Barrel: barrel, Code: present.CodeOf(req.GetCode()), Reason: req.GetReason(), Placer: access.From(ctx).Login}
	return idem.Do(ctx, s.app.DB, s.app.Clock, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Hold, []feed.Fact, error) {
		h, facts, err := s.app.PlaceHold(ctx, tx, c)
		return present.Hold(h), facts, err
	})
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
	if len(holds) > size {
		holds = holds[:size]
		answer.NextPageToken = page.Encode(app.HoldKey{Time: holds[size-1].Time, ID: holds[size-1].ID}, req)
	}
	for _, h := range holds {
		answer.Holds = append(answer.Holds, present.Hold(h))
	}
	return answer, nil
}
