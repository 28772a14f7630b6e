package app

import (
	"context"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// ConfirmPaperWeight records that a second person compared a weight with the paper book.
func (a *App) ConfirmPaperWeight(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, []feed.Fact, error) {
	b, t, err := a.Store.TouchBarrelsTicket(ctx, q, id)
	if err != nil {
		return b, nil, err
	}
	if err := b.MayConfirmPaper(access.From(ctx).Login); err != nil {
		return b, nil, err
	}
	if err := t.MayChange(); err != nil {
		return b, nil, err
	}
	b.PaperConfirmer, b.PaperTime = access.From(ctx).Login, a.now()
	if err := a.Store.InsertPaperConfirmation(ctx, q, b); err != nil {
		return b, nil, err
	}
	return b, fact(b.Name(), b.PaperTime, &intakev1.PaperWeightConfirmed{Barrel: a.write().Barrel(b)}), nil
}

// TypedWeights lists a page of the weights typed by hand between two local dates, oldest first.
func (a *App) TypedWeights(ctx context.Context, q pg.Querier, from, to string, after domain.PageKey, size int) ([]domain.Barrel, bool, error) {
	span, err := domain.DaysBetween(from, to, a.Zone)
	if err != nil {
		return nil, false, err
	}
	found, err := a.Store.TypedWeights(ctx, q, span, after, withNext(size))
	page, more := cut(found, size)
	return page, more, err
}
