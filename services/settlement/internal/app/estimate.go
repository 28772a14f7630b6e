package app

import (
	"context"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// EstimatePayout prices a barrel that may not exist, by the engine that prices real ones.
func (a *App) EstimatePayout(ctx context.Context, req *settlementv1.EstimatePayoutRequest) (*settlementv1.Payout, error) {
	b, c, err := a.readQuestion(req)
	if err != nil {
		return nil, err
	}
	pricer, err := a.pricerFor(ctx, a.DB.Pool())
	if err != nil {
		return nil, err
	}
	by, err := a.named(ctx, req.GetSchedule())
	if err != nil {
		return nil, err
	}
	p, err := pricer.Estimate(b, c, by, a.Clock.Now())
	if err != nil {
		return nil, err
	}
	answer := PayoutToProto(p, a.Terms)
	// What the identities of a real payout would be made of is not there.
	answer.Name, answer.Barrel, answer.Ticket = "", "", ""
	for _, l := range answer.GetLines() {
		l.Explanation.Certificate = ""
	}
	return answer, nil
}

func (a *App) readQuestion(req *settlementv1.EstimatePayoutRequest) (domain.Delivered, domain.Certificate, error) {
	var f faultList
	var err error
	b := domain.Delivered{Variety: req.GetVariety(), CropYear: int(req.GetCropYear()), DrumTag: "(estimate)"}
	c := domain.Certificate{Grade: req.GetGrade(), ColorClass: req.GetColorClass()}
	b.Date, err = domain.ParseDate(req.GetDeliveryDate())
	f.note("delivery_date", err)
	b.Net, err = wire.MassFromProto(req.GetNet(), a.Terms.Unit)
	f.note("net", err)
	if err == nil && b.Net <= 0 {
		f = append(f, apierr.Fault{Field: "net", Message: "is " + b.Net.String() + "; a barrel weighs something"})
	}
	c.Water, err = quantity.ParsePercent(req.GetMoisturePercent())
	f.note("moisture_percent", err)
	if err == nil && (c.Water < driest || c.Water > wettest) {
		f = append(f, apierr.Fault{Field: "moisture_percent", Message: "is " + c.Water.String() + "; it must be from 12.0 to 25.0"})
	}
	return b, c, apierr.Fields(f...)
}

// The range of a honey refractometer.
const (
	driest  = quantity.Percent(12_00)
	wettest = quantity.Percent(25_00)
)

// named is the schedule asked for, or nil for the one in force.
func (a *App) named(ctx context.Context, name string) (*domain.Schedule, error) {
	if name == "" {
		return nil, nil
	}
	id, err := identity(name, "schedules")
	if err != nil {
		return nil, err
	}
	s, err := a.Store.Schedule(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	if s == nil || !s.Adopted() && !seesDrafts(ctx) {
		return nil, apierr.NotFound(name)
	}
	return s, nil
}
