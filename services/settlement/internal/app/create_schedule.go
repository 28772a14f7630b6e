package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
)

// CreateSchedule drafts a schedule as the next version of its crop year.
func (a *App) CreateSchedule(ctx context.Context, req *settlementv1.CreateScheduleRequest) (*settlementv1.Schedule, error) {
	draft, err := a.readSchedule(req.GetSchedule())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*settlementv1.Schedule, []feed.Fact, error) {
		if err := a.Store.LockGate(ctx, tx); err != nil {
			return nil, nil, err
		}
		s := *draft
		s.Drafter, s.DraftTime = access.From(ctx).Login, a.Clock.Now()
		if s.ID, err = uuid.NewRandom(); err != nil {
			return nil, nil, fmt.Errorf("name the schedule: %w", err)
		}
		if s.Version, err = a.Store.NextVersion(ctx, tx, s.CropYear); err != nil {
			return nil, nil, err
		}
		if err := a.Store.InsertSchedule(ctx, tx, &s); err != nil {
			return nil, nil, err
		}
		made := ScheduleToProto(&s, a.Terms)
		return made, []feed.Fact{{Aggregate: s.Name(), Payload: &settlementv1.ScheduleDrafted{Schedule: made}}}, nil
	})
}
