package app

import (
	"cmp"
	"context"
	"errors"
	"slices"

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

// drawnAt is where samples are sealed unless somebody says otherwise.
const drawnAt = "dock"

var errCodesExhausted = errors.New("ten sample codes in a row were taken: the random source repeats itself")

// DrawSample gives a barrel its blind code, and seals the portions that were filled at once; place is where.
func (a *App) DrawSample(ctx context.Context, q pg.Querier, id uuid.UUID, seals []domain.Seal, place string) (domain.Barrel, []feed.Fact, error) {
	if err := domain.VetSeals(seals); err != nil {
		return domain.Barrel{}, nil, err
	}
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
	facts := fact(sample, b.DrawTime, &intakev1.SampleDrawn{
		Sample: sample, Barrel: b.Name(), Variety: b.Variety, CropYear: int32(b.CropYear), //nolint:gosec // checked against the calendar
	})
	for _, s := range seals {
		e, sealed, err := a.addCustody(ctx, q, domain.Portion{Sample: b.Sample, Letter: s.Letter}, domain.CustodyEvent{
			Kind: domain.Sealed, Place: cmp.Or(place, drawnAt), Seal: s.Number, Expires: s.Expires, Actor: access.From(ctx).Login,
			Time: b.DrawTime, RecordTime: b.DrawTime,
		})
		if err != nil {
			return b, nil, err
		}
		b.Seals, facts = append(b.Seals, domain.Seal{Letter: s.Letter, Number: s.Number, Expires: e.Expires}), append(facts, sealed...)
	}
	slices.SortFunc(b.Seals, func(x, y domain.Seal) int { return cmp.Compare(x.Letter, y.Letter) })
	return b, facts, nil
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
