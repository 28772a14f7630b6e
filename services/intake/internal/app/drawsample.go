package app

import (
	"context"
	"errors"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// A code is taken twice about once in 10^11 pairs; ten in a row means that the source of randomness is broken.
const mostCodes = 10

var errCodesExhausted = errors.New("ten sample codes in a row were taken: the random source repeats itself")

// DrawSample gives a barrel its blind code.
func (a *App) DrawSample(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Barrel, []feed.Fact, error) {
	b, t, err := a.Store.TouchBarrelsTicket(ctx, q, id)
	if err != nil {
		return b, nil, err
	}
	if err := t.MayDrawSample(b); err != nil {
		return b, nil, err
	}
	b.DrawTime = a.now()
	if b, err = a.giveCode(ctx, q, b); err != nil {
		return b, nil, err
	}
	sample := message.SampleName(b.Sample)
	return b, fact(sample, b.DrawTime, &intakev1.SampleDrawn{
		Sample: sample, Barrel: b.Name(), Variety: b.Variety, CropYear: int32(b.CropYear), //nolint:gosec // checked against the calendar
	}), nil
}

func (a *App) giveCode(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Barrel, error) {
	for range mostCodes {
		var err error
		if b.Sample, err = a.Codes.Draw(); err != nil {
			return b, err
		}
		if fresh, err := a.Store.InsertSample(ctx, q, b, access.From(ctx).Login); err != nil || fresh {
			return b, err
		}
	}
	return b, errCodesExhausted
}
