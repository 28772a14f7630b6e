package rpc

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/drill"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/calendar"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

// StartRecallDrill traces and starts the stopwatch.
func (s *Server) StartRecallDrill(ctx context.Context, req *inventoryv1.StartRecallDrillRequest) (*inventoryv1.RecallDrill, error) {
	actor := access.From(ctx).Login
	return doWith(ctx, s, req, func(ctx context.Context) (drill.Drill, error) {
		place, err := s.traceable(ctx, req.GetSubject())
		if err != nil {
			return drill.Drill{}, err
		}
		return s.app.Drill(ctx, place)
	}, func(ctx context.Context, tx pgx.Tx, drilled drill.Drill) (*inventoryv1.RecallDrill, []feed.Fact, error) {
		d, facts, err := s.app.StartDrill(ctx, tx, drilled, actor)
		return present.Drill(d, s.app.Unit), facts, err
	})
}

// FinishRecallDrill stops the stopwatch.
func (s *Server) FinishRecallDrill(ctx context.Context, req *inventoryv1.FinishRecallDrillRequest) (*inventoryv1.RecallDrill, error) {
	r := s.reader()
	id := r.id("name", "recallDrills", req.GetName())
	f := drill.Finish{Found: r.mass("found", req.GetFound(), 0), Contacts: req.GetContacts(), Note: req.GetNote(), Finisher: access.From(ctx).Login}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.RecallDrill, []feed.Fact, error) {
		d, facts, err := s.app.FinishDrill(ctx, tx, id, f)
		return present.Drill(d, s.app.Unit), facts, err
	})
}

// ListRecallDrills lists drills.
func (s *Server) ListRecallDrills(ctx context.Context, req *inventoryv1.ListRecallDrillsRequest) (*inventoryv1.ListRecallDrillsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	drills, err := s.app.Lots.Drills(ctx, s.app.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListRecallDrillsResponse{}
	drills, answer.NextPageToken = page.Cut(drills, size, req, func(last drill.Drill) any { return last.Number })
	for _, d := range drills {
		answer.Drills = append(answer.Drills, present.Drill(d, s.app.Unit))
	}
	return answer, nil
}

// RecordCycleCount compares a location with the books.
func (s *Server) RecordCycleCount(ctx context.Context, req *inventoryv1.RecordCycleCountRequest) (*inventoryv1.CycleCount, error) {
	actor := access.From(ctx).Login
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.CycleCount, []feed.Fact, error) {
		c, facts, err := s.app.Count(ctx, tx, req.GetLocation(), req.GetDrumTags(), actor)
		return present.Count(c), facts, err
	})
}

// ListCycleCounts lists counts.
func (s *Server) ListCycleCounts(ctx context.Context, req *inventoryv1.ListCycleCountsRequest) (*inventoryv1.ListCycleCountsResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	counts, err := s.app.Lots.Counts(ctx, s.app.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListCycleCountsResponse{}
	counts, answer.NextPageToken = page.Cut(counts, size, req, func(last stock.Count) any { return last.Number })
	for _, c := range counts {
		answer.Counts = append(answer.Counts, present.Count(c))
	}
	return answer, nil
}

// ListBalances lists mass balances.
func (s *Server) ListBalances(ctx context.Context, req *inventoryv1.ListBalancesRequest) (*inventoryv1.ListBalancesResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	by := strings.TrimPrefix(req.GetBy().String(), "BALANCE_BY_")
	balances, err := s.app.Lots.Balances(ctx, s.app.DB.Pool(), by, s.app.Zone, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListBalancesResponse{}
	balances, answer.NextPageToken = page.Cut(balances, size, req, func(last lots.Balance) any { return last.Number })
	for _, b := range balances {
		answer.Balances = append(answer.Balances, present.Balance(b, s.app.Unit))
	}
	return answer, nil
}

// ListTraceEvents lists what happened to honey in a stretch of days.
func (s *Server) ListTraceEvents(ctx context.Context, req *inventoryv1.ListTraceEventsRequest) (*inventoryv1.ListTraceEventsResponse, error) {
	r := s.reader()
	from, through := r.day("from_date", req.GetFromDate(), s.app.Zone), r.day("through_date", req.GetThroughDate(), s.app.Zone)
	if through.Before(from) {
		r.note("through_date", fmt.Errorf("%s is before %s", req.GetThroughDate(), req.GetFromDate()))
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	var after app.EventKey
	size, err := paging(req, &after)
	if err != nil {
		return nil, err
	}
	events, err := s.app.Lots.TraceEvents(ctx, s.app.DB.Pool(), from, through.AddDate(0, 0, 1), after, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListTraceEventsResponse{}
	events, answer.NextPageToken = page.Cut(events, size, req, func(last app.TraceEvent) any { return last.EventKey })
	for _, e := range events {
		answer.Events = append(answer.Events, s.traceEvent(e))
	}
	return answer, nil
}

func (s *Server) traceEvent(e app.TraceEvent) *inventoryv1.TraceEvent {
	m := &inventoryv1.TraceEvent{
		Name: e.Name, Kind: inventoryv1.TraceEventKind(inventoryv1.TraceEventKind_value["TRACE_EVENT_KIND_"+e.Kind]), Time: timestamppb.New(e.Time),
		From: e.From, To: e.To, Subject: e.Subject, Jars: e.Jars, LotCode: e.LotCode, Gtin: e.GTIN, Customer: e.Customer, Sscc: e.SSCC,
		HoldCode: inventoryv1.HoldCode(inventoryv1.HoldCode_value["HOLD_CODE_"+e.HoldCode]), StillHeld: e.StillHeld, Ticket: e.Ticket, ChargeCodes: e.Charges,
	}
	if e.Mass > 0 {
		m.Mass = wire.MassToProto(quantity.Mass(e.Mass), s.app.Unit)
	}
	return m
}

// day reads a local day.
func (r *reader) day(field, text string, zone *time.Location) time.Time {
	day, err := calendar.Day(text, zone)
	r.note(field, err)
	return day
}

// traceable is a place by its name, or by the code on a jar or of a charge.
func (s *Server) traceable(ctx context.Context, name string) (lots.Place, error) {
	place := lots.Place(name)
	switch place.Kind() {
	case lots.Pack:
		lot, err := s.app.Run(ctx, place.ID())
		return lot.Place(), err
	case lots.Charge:
		id, err := s.app.FindCharge(ctx, place.ID())
		return lots.Of(lots.Charge, id), err
	default:
		return place, nil
	}
}
