package app

import (
	"context"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// ScaleReviews lists a page, newest first, and reports whether more follow.
func (a *App) ScaleReviews(ctx context.Context, q pg.Querier, f domain.ReviewFilter) ([]domain.ScaleReview, bool, error) {
	size := f.Limit
	f.Limit = withNext(size)
	found, err := a.Store.Reviews(ctx, q, f)
	page, more := cut(found, size)
	return page, more, err
}

// TareVariances lists a page, newest first, and reports whether more follow.
func (a *App) TareVariances(ctx context.Context, q pg.Querier, before domain.PageKey, size int) ([]domain.TareVariance, bool, error) {
	found, err := a.Store.TareVariances(ctx, q, before, withNext(size))
	page, more := cut(found, size)
	return page, more, err
}

// TicketNumbers accounts for every number of a year.
func (a *App) TicketNumbers(ctx context.Context, q pg.Querier, year int) (domain.NumberReport, error) {
	return a.Store.NumberReport(ctx, q, a.Site, year)
}

// Weighers counts what each person weighed between two local dates, both included.
func (a *App) Weighers(ctx context.Context, q pg.Querier, from, to string) ([]domain.WeigherLine, error) {
	span, err := domain.DaysBetween(from, to, a.Zone)
	if err != nil {
		return nil, err
	}
	return a.Store.Weighers(ctx, q, span)
}
