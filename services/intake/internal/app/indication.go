package app

import (
	"context"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// IndicatedScale reads the scale whose indication is asked for. It fails with NOT_FOUND.
func (a *App) IndicatedScale(ctx context.Context, q pg.Querier, id string) (domain.Scale, error) {
	return a.Store.Scale(ctx, q, id)
}
