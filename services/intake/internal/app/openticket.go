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

// OpenTicket begins a delivery. t.ID may come from a dock that was offline; uuid.Nil lets the service make one.
func (a *App) OpenTicket(ctx context.Context, q pg.Querier, t domain.Ticket) (domain.Ticket, []feed.Fact, error) {
	t.RecordTime, t.Weigher, t.State, t.Version = a.now(), access.From(ctx).Login, domain.Open, 1
	at, err := domain.DeviceTime("open_time", t.OpenTime, t.RecordTime)
	if err != nil {
		return t, nil, err
	}
	t.OpenTime = at
	t.DeliveryDate = a.date(t.OpenTime)
	if err := domain.CropYear(t.CropYear, t.OpenTime.In(a.Zone).Year()); err != nil {
		return t, nil, err
	}
	m, err := a.Store.Member(ctx, q, t.Member)
	if err != nil {
		return t, nil, err
	}
	t.MemberName = m.DisplayName
	if t.Owners, err = a.owners(ctx, q, t); err != nil {
		return t, nil, err
	}
	if t.ID == uuid.Nil {
		if t.ID, err = uuid.NewV7(); err != nil {
			return t, nil, err
		}
	}
	if err := a.number(ctx, q, &t); err != nil {
		return t, nil, err
	}
	if err := a.Store.InsertTicket(ctx, q, t); err != nil {
		return t, nil, err
	}
	return t, fact(t.Name(), t.OpenTime, &intakev1.TicketOpened{Ticket: a.write().Ticket(t)}), nil
}

// number comes late in a transaction: until the commit nobody else of this site gets a number.
func (a *App) number(ctx context.Context, q pg.Querier, t *domain.Ticket) error {
	year := a.now().In(a.Zone).Year()
	ordinal, err := a.Store.NextOrdinal(ctx, q, a.Site, year)
	t.Number = domain.Number{Site: a.Site, Year: year, Ordinal: ordinal}
	return err
}
