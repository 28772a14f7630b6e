package app

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/settlement/internal/domain"
)

// AdoptSchedule records the board's resolution and prices the barrels that waited for it in the same transaction, up to
// AtOnce of them; Sweep prices the rest.
func (a *App) AdoptSchedule(ctx context.Context, req *settlementv1.AdoptScheduleRequest) (*settlementv1.Schedule, error) {
	id, err := identity(req.GetName(), "schedules")
	if err != nil {
		return nil, err
	}
	var rest domain.AgeKey
	made, err := idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Schedule, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		adopted, err := a.adopt(ctx, tx, id, req)
		if err != nil {
			return nil, nil, err
		}
		var priced []feed.Fact
		priced, rest, err = a.priceSome(ctx, tx, adopted.CropYear, domain.AgeKey{})
		if err != nil {
			return nil, nil, err
		}
		made := ScheduleToProto(adopted, a.Terms)
		fact := feed.Fact{Aggregate: adopted.Name(), Payload: &settlementv1.ScheduleAdopted{Schedule: made}}
		return made, append([]feed.Fact{fact}, priced...), nil
	})
	if err == nil && rest != (domain.AgeKey{}) {
		a.DB.Announce(adoptedChannel(a.DB))
	}
	return made, err
}

func (a *App) adopt(ctx context.Context, tx pgx.Tx, id uuid.UUID, req *settlementv1.AdoptScheduleRequest) (*domain.Schedule, error) {
	draft, err := a.Store.Schedule(ctx, tx, id)
	if err != nil {
		return nil, err
	}
	if draft == nil {
		return nil, apierr.NotFound(req.GetName())
	}
	among, err := a.Store.AdoptedSchedules(ctx, tx)
	if err != nil {
		return nil, err
	}
	adopted, err := draft.Adopt(req.GetResolution(), access.From(ctx).Login, a.Clock.Now(), among)
	if err != nil {
		return nil, err
	}
	return adopted, a.Store.InsertAdoption(ctx, tx, adopted)
}
