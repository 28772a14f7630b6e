package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/quantity"
)

// Bounds of what a probe in a honey house can show, in tenths of a degree.
const coldest, warmest = -30_0, int64(heat.Boiling)

// RecordTemperatures appends to the log of a stay.
func (s *Server) RecordTemperatures(ctx context.Context, req *inventoryv1.RecordTemperaturesRequest) (*inventoryv1.RecordTemperaturesResponse, error) {
	r, actor := s.reader(), access.From(ctx)
	c := app.RecordTemperatures{
		Log:   heat.Log{Stay: heat.Stay{ID: r.word("name", "heatStays", req.GetName())}, Probe: req.GetProbe(), Readings: s.readings(r, req)},
		Actor: actor.Login, Logger: !actor.Has(accessv1.Role_ROLE_WAREHOUSE) && !actor.Has(accessv1.Role_ROLE_LINE),
	}
	if req.GetLimitCelsius() != "" {
		limit := heat.Celsius(r.fixed("limit_celsius", req.GetLimitCelsius(), 1))
		if limit < 1 || limit > heat.Boiling {
			r.note("limit_celsius", fmt.Errorf("%s °C is not above 0 and at most 120 °C", limit))
		}
		c.Limit = &limit
	}
	for i, name := range req.GetWarmed() {
		c.Warmed = append(c.Warmed, r.warmed(fmt.Sprintf("warmed[%d]", i), name))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.RecordTemperaturesResponse, []feed.Fact, error) {
		all, facts, err := s.app.RecordTemperatures(ctx, tx, c)
		answer := &inventoryv1.RecordTemperaturesResponse{}
		for _, one := range all {
			answer.Heats = append(answer.Heats, present.Heat(string(one.Place), one.Account))
		}
		return answer, facts, err
	})
}

// AllowHeat lets a stay be scalding hot that another person will record.
func (s *Server) AllowHeat(ctx context.Context, req *inventoryv1.AllowHeatRequest) (*inventoryv1.HeatAllowance, error) {
	r := s.reader()
	a := heat.Allowance{
		Stay: r.word("name", "heatStays", req.GetName()), Limit: heat.Celsius(r.fixed("limit_celsius", req.GetLimitCelsius(), 1)),
		Reason: strings.TrimSpace(req.GetReason()), Allower: access.From(ctx).Login,
	}
	if r.err() == nil {
		r.note("limit_celsius", a.Check())
	}
	if a.Reason == "" {
		r.note("reason", errHotForNothing)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.HeatAllowance, []feed.Fact, error) {
		made, facts, err := s.app.AllowHeat(ctx, tx, a)
		return present.HeatAllowance(made), facts, err
	})
}

var errHotForNothing = errors.New("is missing: say why the honey must be so hot")

// ListHeatAllowances lists what people allowed.
func (s *Server) ListHeatAllowances(ctx context.Context, req *inventoryv1.ListHeatAllowancesRequest) (*inventoryv1.ListHeatAllowancesResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Allowances(ctx, s.app.DB.Pool(), strings.TrimPrefix(req.GetStay(), "heatStays/"), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListHeatAllowancesResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last heat.Allowance) any { return last.Number })
	for _, a := range found {
		answer.Allowances = append(answer.Allowances, present.HeatAllowance(a))
	}
	return answer, nil
}

// longestKept is longer than a file of a logger waits to be sent: what is older comes from a clock nobody set, and would leave the
// heat of a barrel unknown for the years between.
const longestKept = 2 * 365 * 24 * time.Hour

func (s *Server) readings(r *reader, req *inventoryv1.RecordTemperaturesRequest) (out []heat.Reading) {
	now := s.app.Clock.Now()
	for i, m := range req.GetReadings() {
		field := fmt.Sprintf("readings[%d]", i)
		c, err := quantity.ParseFixed(m.GetCelsius(), 1)
		if err == nil && (c < coldest || c > warmest) {
			err = fmt.Errorf("%s °C is not from -30 to 120 °C", m.GetCelsius())
		}
		r.note(field+".celsius", err)
		switch at := m.GetTime().AsTime(); {
		case at.After(now):
			r.note(field+".time", fmt.Errorf("%s is in the future: set the clock of the probe", at.Format("2006-01-02 15:04 UTC")))
		case at.Before(now.Add(-longestKept)):
			r.note(field+".time", fmt.Errorf("%s is more than two years ago: set the clock of the probe", at.Format("2006-01-02 15:04 UTC")))
		}
		out = append(out, heat.Reading{Time: m.GetTime().AsTime(), Celsius: heat.Celsius(c)})
	}
	return out
}

// warmed reads the name of a barrel in stock or of a charge.
func (r *reader) warmed(field, name string) lots.Place {
	if strings.HasPrefix(name, "charges/") {
		return lots.Of(lots.Charge, r.id(field, "charges", name))
	}
	return lots.Of(lots.Barrel, r.id(field, "stock", name))
}

// GetHeat reads what warming cost a barrel or a charge.
func (s *Server) GetHeat(ctx context.Context, req *inventoryv1.GetHeatRequest) (*inventoryv1.Heat, error) {
	r := s.reader()
	place := r.warmed("name", req.GetName())
	if err := r.err(); err != nil {
		return nil, err
	}
	one, err := s.app.Heat(ctx, place)
	if err != nil {
		return nil, err
	}
	return present.Heat(string(one.Place), one.Account), nil
}

// ListTemperatures reads the logs of a barrel or a charge.
func (s *Server) ListTemperatures(ctx context.Context, req *inventoryv1.ListTemperaturesRequest) (*inventoryv1.ListTemperaturesResponse, error) {
	r := s.reader()
	place := r.warmed("name", req.GetName())
	if err := r.err(); err != nil {
		return nil, err
	}
	logs, err := s.app.Temperatures(ctx, place)
	answer := &inventoryv1.ListTemperaturesResponse{}
	for _, l := range logs {
		answer.Logs = append(answer.Logs, present.Temperatures(l))
	}
	return answer, err
}
