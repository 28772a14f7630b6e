package rpc

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/wire"
)

// GetStockItem reads one barrel.
func (s *Server) GetStockItem(ctx context.Context, req *inventoryv1.GetStockItemRequest) (*inventoryv1.StockItem, error) {
	barrel, err := parseName("name", "stock", req.GetName())
	if err != nil {
		return nil, err
	}
	item, err := s.app.Item(ctx, barrel)
	if err != nil {
		return nil, err
	}
	return present.Item(item, s.app.Unit), nil
}

// ListStock lists barrels on hand, or those asked for by name.
func (s *Server) ListStock(ctx context.Context, req *inventoryv1.ListStockRequest) (*inventoryv1.ListStockResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	var after *app.StockKey
	if err := page.Decode(req.GetPageToken(), req, &after); err != nil {
		return nil, err
	}
	r := s.reader()
	var barrels []uuid.UUID
	for n, name := range req.GetStockItems() {
		barrels = append(barrels, r.id(fmt.Sprintf("stock_items[%d]", n), "stock", name))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	items, err := s.app.Items(ctx, app.Filter{
		Variety: req.GetVariety(), CropYear: req.GetCropYear(), ColorClass: req.GetColorClass(), Grade: req.GetGrade(),
		Location: req.GetLocation(), HeldOnly: req.GetHeldOnly(), Barrels: barrels, DrumTags: req.GetDrumTags(),
	}, after, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListStockResponse{}
	items, answer.NextPageToken = page.Cut(items, size, req, func(last stock.Item) any { return app.StockKey{ReceiveDate: last.ReceiveDate, Barrel: last.Barrel} })
	for _, i := range items {
		answer.StockItems = append(answer.StockItems, present.Item(i, s.app.Unit))
	}
	return answer, nil
}

// SummarizeStock totals what is on hand.
func (s *Server) SummarizeStock(ctx context.Context, _ *inventoryv1.SummarizeStockRequest) (*inventoryv1.SummarizeStockResponse, error) {
	totals, err := s.app.Totals(ctx)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.SummarizeStockResponse{}
	for _, t := range totals {
		answer.Totals = append(answer.Totals, &inventoryv1.StockTotal{
			Variety: t.Variety, CropYear: t.CropYear, ColorClass: t.ColorClass, Grade: t.Grade, Barrels: t.Barrels,
			HeldBarrels: t.Held, Net: wire.MassToProto(t.Net, s.app.Unit),
		})
	}
	return answer, nil
}

// MoveBarrel records a move.
func (s *Server) MoveBarrel(ctx context.Context, req *inventoryv1.MoveBarrelRequest) (*inventoryv1.StockItem, error) {
	barrel, err := parseName("name", "stock", req.GetName())
	if err != nil {
		return nil, err
	}
	c := app.Move{Barrel: barrel, Location: req.GetLocation(), ETag: req.GetEtag(), Mover: access.From(ctx).Login}
	return idem.Do(ctx, s.app.DB, s.app.Clock, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.StockItem, []feed.Fact, error) {
		item, facts, err := s.app.Move(ctx, tx, c)
		return present.Item(item, s.app.Unit), facts, err
	})
}

// ListMovements lists the moves of one barrel.
func (s *Server) ListMovements(ctx context.Context, req *inventoryv1.ListMovementsRequest) (*inventoryv1.ListMovementsResponse, error) {
	barrel, err := parseName("stock_item", "stock", req.GetStockItem())
	if err != nil {
		return nil, err
	}
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, err
	}
	var after int64
	if err := page.Decode(req.GetPageToken(), req, &after); err != nil {
		return nil, err
	}
	moves, err := s.app.Movements(ctx, barrel, after, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListMovementsResponse{}
	moves, answer.NextPageToken = page.Cut(moves, size, req, func(last stock.Movement) any { return last.Number })
	for _, m := range moves {
		answer.Movements = append(answer.Movements, present.Movement(m))
	}
	return answer, nil
}
