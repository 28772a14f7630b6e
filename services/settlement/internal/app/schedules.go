package app

import (
	"context"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/settlement/internal/domain"
)

// seesDrafts reports whether the caller has a ground to read what the board has not adopted.
func seesDrafts(ctx context.Context) bool {
	a := access.From(ctx)
	for _, r := range []accessv1.Role{accessv1.Role_ROLE_OFFICE, accessv1.Role_ROLE_TREASURER, accessv1.Role_ROLE_BOARD, accessv1.Role_ROLE_AUDITOR} {
		if a.Has(r) {
			return true
		}
	}
	return false
}

// GetSchedule reads one schedule. To a member a draft does not exist.
func (a *App) GetSchedule(ctx context.Context, req *settlementv1.GetScheduleRequest) (*settlementv1.Schedule, error) {
	id, err := identity(req.GetName(), "schedules")
	if err != nil {
		return nil, err
	}
	s, err := a.Store.Schedule(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	if s == nil || !s.Adopted() && !seesDrafts(ctx) {
		return nil, apierr.NotFound(req.GetName())
	}
	return ScheduleToProto(s, a.Terms), nil
}

// ListSchedules pages through schedules, newest first.
func (a *App) ListSchedules(ctx context.Context, req *settlementv1.ListSchedulesRequest) (*settlementv1.ListSchedulesResponse, error) {
	var after domain.ScheduleKey
	size, err := begin(req, &after)
	if err != nil {
		return nil, err
	}
	found, err := a.Store.ListSchedules(ctx, a.DB.Pool(), after, seesDrafts(ctx), size+1)
	if err != nil {
		return nil, err
	}
	out := &settlementv1.ListSchedulesResponse{}
	found, out.NextPageToken = page.Cut(found, size, req, func(s *domain.Schedule) any { return domain.ScheduleKey{CropYear: s.CropYear, Version: s.Version} })
	for _, s := range found {
		out.Schedules = append(out.Schedules, ScheduleToProto(s, a.Terms))
	}
	return out, nil
}
