package app

import (
	"context"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/stock"
)

// Item reads one barrel.
func (a *App) Item(ctx context.Context, barrel uuid.UUID) (stock.Item, error) {
	return a.Stock.Item(ctx, a.DB.Pool(), barrel)
}

// Items lists barrels on hand.
func (a *App) Items(ctx context.Context, f Filter, after *StockKey, limit int) ([]stock.Item, error) {
	return a.Stock.Items(ctx, a.DB.Pool(), f, after, limit)
}

// Totals adds up what is on hand.
func (a *App) Totals(ctx context.Context) ([]Total, error) {
	return a.Stock.Totals(ctx, a.DB.Pool())
}

// Holds lists holds.
func (a *App) Holds(ctx context.Context, openOnly bool, after *HoldKey, limit int) ([]stock.Hold, error) {
	return a.Stock.Holds(ctx, a.DB.Pool(), openOnly, after, limit)
}

// Movements lists the moves of a barrel: *stock.NotFoundError for one that is not known.
func (a *App) Movements(ctx context.Context, barrel uuid.UUID, after int64, limit int) ([]stock.Movement, error) {
	if _, err := a.Stock.Item(ctx, a.DB.Pool(), barrel); err != nil {
		return nil, err
	}
	return a.Stock.Movements(ctx, a.DB.Pool(), barrel, after, limit)
}
