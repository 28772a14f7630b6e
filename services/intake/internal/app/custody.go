package app

import (
	"context"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// RecordCustody records what happened to a portion of a sample and returns all portions.
func (a *App) RecordCustody(ctx context.Context, q pg.Querier, code, letter string, e domain.CustodyEvent) ([]domain.Portion, []feed.Fact, error) {
	if err := a.Store.LockSample(ctx, q, code); err != nil {
		return nil, nil, err
	}
	all, err := a.Store.Custody(ctx, q, code)
	if err != nil {
		return nil, nil, err
	}
	e.Actor, e.RecordTime = access.From(ctx).Login, a.now()
	if e.Time, err = domain.DeviceTime("event_time", e.Time, e.RecordTime); err != nil {
		return nil, nil, err
	}
	i := int(letter[0] - 'A')
	before := all[i]
	if e, err = before.Add(e, a.date(e.Time)); err != nil {
		return nil, nil, err
	}
	if err := a.Store.InsertCustody(ctx, q, before, e); err != nil {
		return nil, nil, err
	}
	all[i].Events = append(all[i].Events, e)
	sample, event := before.SampleName(), message.CustodyEvent(e)
	facts := fact(sample, e.Time, &intakev1.SampleCustodyRecorded{Sample: sample, Portion: message.PortionOf(letter), Event: event})
	if e.Gap != "" && before.Broken() == "" {
		facts = append(facts, fact(sample, e.Time, &intakev1.SampleCustodyBroken{
			Sample: sample, Portion: message.PortionOf(letter), Reason: e.Gap, Event: event,
		})...)
	}
	return all, facts, nil
}

// Custody reads the portions of a sample the caller may see, A to C.
func (a *App) Custody(ctx context.Context, q pg.Querier, code string) ([]domain.Portion, error) {
	if access.From(ctx).OnlyMember() {
		barrel, err := a.Store.SampledBarrel(ctx, q, code)
		if err != nil {
			return nil, err
		}
		if _, err := a.Barrel(ctx, q, barrel); err != nil {
			return nil, domain.NotFound(message.SampleName(code))
		}
	}
	return a.Store.Custody(ctx, q, code)
}
