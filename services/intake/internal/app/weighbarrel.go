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

// WeighBarrel decides about a weighing and changes nothing: the barrel it returns is what Store.QueueBarrel puts on the
// ticket if everything is still as it was read. This is what a dock does all day, so many weighings share one commit.
func (a *App) WeighBarrel(ctx context.Context, q pg.Querier, b domain.Barrel) (domain.Barrel, []feed.Fact, error) {
	b.RecordTime = a.now()
	// An unsaid time stays zero while the place is read: then the newest check counts, whatever its clock said.
	at, err := domain.DeviceTime("weigh_time", b.WeighTime, b.RecordTime)
	if err != nil {
		return b, nil, err
	}
	if err := b.VetPaper(b.WeighTime, b.RecordTime, a.Zone); err != nil {
		return b, nil, err
	}
	if b.Weighing, err = a.fromScale(ctx, q, b.Weighing, b.Scale, b.Capture, at, !b.WeighTime.IsZero()); err != nil {
		return b, nil, err
	}
	place, err := a.Store.Place(ctx, q, b)
	if err != nil {
		return b, nil, err
	}
	if b.Container, err = place.Asset.Is(b.Container); err != nil {
		return b, nil, err
	}
	place.Asset.Container, place.Today = b.Container, a.date(at)
	if place.ClassTares, err = a.classTares(ctx, q, b.TareKind); err != nil {
		return b, nil, err
	}
	if b.Warnings, err = place.Weigh(b.Weighing, a.Expect); err != nil {
		return b, nil, err
	}
	if b.ID == uuid.Nil {
		// Version 7 grows with time, which keeps the indexes compact.
		if b.ID, err = uuid.NewV7(); err != nil {
			return b, nil, err
		}
	}
	b.Line, b.Member, b.CropYear = place.Ticket.BarrelCount+1, place.Ticket.Member, place.Ticket.CropYear
	b.CheckOrdinal, b.KnownChecks = place.CheckOrdinal(), place.KnownChecks
	b.Weigher, b.WeighTime, b.Open = access.From(ctx).Login, at, true
	return b, fact(b.Name(), b.WeighTime, &intakev1.BarrelWeighed{Barrel: a.write().Barrel(b)}), nil
}
