package app

import (
	"context"
	"errors"

	"github.com/google/uuid"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// WeighBarrel puts a barrel on an open ticket. This is what a dock does all day, so it saves first and decides on what came
// back with the same round trip; a refusal rolls everything back.
func (a *App) WeighBarrel(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Barrel, []feed.Fact, error) {
	if err := b.HasNet(a.Unit); err != nil {
		return b, nil, err
	}
	b.Weigher, b.WeighTime, b.Open = access.From(ctx).Login, a.now(), true
	unknown := domain.Asset{Tag: b.DrumTag}
	b.Warnings = a.Expect.Warnings(b.Weighing, unknown)
	if b.ID == uuid.Nil {
		var err error
		// Version 7 grows with time, which keeps the indexes compact.
		if b.ID, err = uuid.NewV7(); err != nil {
			return b, nil, err
		}
	}
	place, err := a.Store.FillDrum(ctx, q, b, a.Expect.Unremarkable(b.Weighing), a.Expect.TarePolicy())
	if err != nil {
		return b, nil, err
	}
	if err := a.allow(ctx, q, b, place); err != nil {
		return b, nil, err
	}
	if place.Filled {
		err = a.Expect.Answered(b.Weighing, unknown)
	} else {
		b, err = a.fillKnown(ctx, q, b)
	}
	if err != nil {
		return b, nil, err
	}
	b.Line, b.Member, b.CropYear = place.Ticket.BarrelCount, place.Ticket.Member, place.Ticket.CropYear
	b.CheckOrdinal = place.Scale.CheckOrdinal()
	return b, fact(b.Name(), b.WeighTime, &intakev1.BarrelWeighed{Barrel: a.write().Barrel(b)}), nil
}

// NameOpenBarrel adds to a refused weighing what the drum holds. It reads outside the transaction that failed, so what is
// named is what fills the drum now; a drum freed meanwhile stays nameless, and the clerk tries again.
func (a *App) NameOpenBarrel(ctx context.Context, q pg.Querier, err error) error {
	refusal, ok := errors.AsType[*domain.Refusal](err)
	if !ok || refusal.Drum() == "" {
		return err
	}
	d, lookup := a.Store.Drum(ctx, q, refusal.Drum())
	if lookup != nil || d.Fill == nil {
		return err
	}
	return domain.DrumInUse(d.Tag, domain.Barrel{ID: d.Fill.Barrel}.Name())
}

func (a *App) allow(ctx context.Context, q pg.Querier, b domain.Barrel, place domain.Place) error {
	if place.Ticket.State != domain.Open {
		t, err := a.Store.TicketHead(ctx, q, b.Ticket)
		if err != nil {
			return err
		}
		return t.MayChange()
	}
	if place.Scale.ID == "" {
		return domain.NotFound(domain.Scale{ID: b.Scale}.Name())
	}
	return place.Scale.Weigh(b.Weighing, a.Unit)
}

// fillKnown judges a weighing again by what is known of the drum, and puts the barrel in.
func (a *App) fillKnown(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Barrel, error) {
	asset, err := a.Store.Asset(ctx, q, b.DrumTag)
	if err != nil {
		return b, err
	}
	if err := asset.MayBeFilled(); err != nil {
		return b, err
	}
	if err := a.Expect.Answered(b.Weighing, asset); err != nil {
		return b, err
	}
	b.Warnings = a.Expect.Warnings(b.Weighing, asset)
	return b, a.Store.FillKnownDrum(ctx, q, b)
}
