package app

import (
	"cmp"
	"context"

	"google.golang.org/protobuf/types/known/timestamppb"

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
	e, facts, err := a.addCustody(ctx, q, all[i], e)
	if err != nil {
		return nil, nil, err
	}
	all[i].Events = append(all[i].Events, e)
	return all, facts, nil
}

// addCustody records an event of a portion, and that the chain broke where it is the first to show it.
func (a *App) addCustody(ctx context.Context, q pg.Querier, p domain.Portion, e domain.CustodyEvent) (domain.CustodyEvent, []feed.Fact, error) {
	e, err := p.Add(e, a.date(e.Time), a.Retention)
	if err != nil {
		return e, nil, err
	}
	if err := a.Store.InsertCustody(ctx, q, p, e); err != nil {
		return e, nil, err
	}
	sample, portion, event := p.SampleName(), message.PortionOf(p.Letter), message.CustodyEvent(e)
	facts := fact(sample, e.Time, &intakev1.SampleCustodyRecorded{Sample: sample, Portion: portion, Event: event})
	if e.Gap != "" && p.Broken() == "" {
		facts = append(facts, fact(sample, e.Time, &intakev1.SampleCustodyBroken{
			Sample: sample, Portion: portion, Reason: e.Gap, Event: event, BreakTime: event.GetEventTime(), SinceTime: timestamppb.New(p.Since(e)),
		})...)
	}
	return e, facts, nil
}

// PortionsDue lists a page of the portions whose time is over on a date, today if it is empty, and reports whether more follow.
func (a *App) PortionsDue(ctx context.Context, q pg.Querier, f domain.DueFilter) ([]domain.PortionDue, bool, error) {
	f.Date = cmp.Or(f.Date, a.Today())
	if err := domain.DueDate(f.Date); err != nil {
		return nil, false, err
	}
	size := f.Limit
	f.Limit = withNext(size)
	found, err := a.Store.PortionsDue(ctx, q, f)
	page, more := cut(found, size)
	return page, more, err
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
