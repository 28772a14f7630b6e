package app

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/pg"
)

// ViewRow is one look at something, with its place in the log.
type ViewRow struct {
	Sequence                 int64
	Viewer, Resource, Method string
	Time                     time.Time
}

// Oversight holds what the laboratory is looked at by.
type Oversight interface {
	SaveViews(ctx context.Context, q pg.Querier, viewer, method string, resources []string, at time.Time) error
	Views(ctx context.Context, q pg.Querier, resource, viewer string, before int64, most int) ([]ViewRow, error)
	RunsBetween(ctx context.Context, q pg.Querier, from, until time.Time) ([]domain.ControlReading, error)
	DuplicatesBetween(ctx context.Context, q pg.Querier, from, until time.Time) ([]domain.Duplicate, error)
	SaveRetirement(ctx context.Context, tx pgx.Tx, control string, r *domain.Retirement) error
}

// saw notes who looked before anything is shown: what cannot be logged is not shown.
func (a *App) saw(ctx context.Context, method string, resources ...string) error {
	if len(resources) == 0 {
		return nil
	}
	return a.Oversight.SaveViews(ctx, a.DB.Pool(), access.From(ctx).Login, method, resources, a.now())
}

func namesOf[R interface{ GetName() string }](list []R) []string {
	names := make([]string, 0, len(list))
	for _, r := range list {
		names = append(names, r.GetName())
	}
	return names
}

// ListViews is the log of who looked at what.
func (a *App) ListViews(ctx context.Context, req *gradingv1.ListViewsRequest) (*gradingv1.ListViewsResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list looks: %w", err)
	}
	var before int64
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list looks: %w", err)
	}
	rows, err := a.Oversight.Views(ctx, a.DB.Pool(), req.GetResource(), req.GetViewer(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListViewsResponse{}
	rows, answer.NextPageToken = page.Cut(rows, size, req, func(r ViewRow) any { return r.Sequence })
	for _, r := range rows {
		answer.Views = append(answer.Views, &gradingv1.View{Viewer: r.Viewer, Resource: r.Resource, Method: r.Method, ViewTime: timestamppb.New(r.Time)})
	}
	return answer, nil
}

// endOfTime is after every run; it stands for a report without a last day.
var endOfTime = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

// ReportBias says how everyone reads controls and duplicates.
func (a *App) ReportBias(ctx context.Context, req *gradingv1.ReportBiasRequest) (*gradingv1.ReportBiasResponse, error) {
	from, err := a.startOf("from_date", req.GetFromDate(), 0, time.Time{})
	if err != nil {
		return nil, err
	}
	until, err := a.startOf("to_date", req.GetToDate(), 1, endOfTime)
	if err != nil {
		return nil, err
	}
	if !from.Before(until) {
		return nil, &domain.FieldError{FieldName: "to_date", Message: "to_date lies before from_date"}
	}
	runs, err := a.Oversight.RunsBetween(ctx, a.DB.Pool(), from, until)
	if err != nil {
		return nil, err
	}
	pairs, err := a.jarPairs(ctx, from, until)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ReportBiasResponse{}
	lines := domain.House().Bias(runs, pairs)
	for i := range lines {
		answer.Lines = append(answer.Lines, message.BiasLine(&lines[i]))
	}
	return answer, nil
}

// startOf is the first moment of a day of the cooperative's calendar, or of a later one.
func (a *App) startOf(field, day string, later int, unsaid time.Time) (time.Time, error) {
	if day == "" {
		return unsaid, nil
	}
	at, err := time.ParseInLocation(time.DateOnly, day, a.Zone)
	if err != nil {
		return at, &domain.FieldError{FieldName: field, Message: fmt.Sprintf("%s %q is no day of the calendar", field, day)}
	}
	return at.AddDate(0, 0, later), nil
}

func (a *App) jarPairs(ctx context.Context, from, until time.Time) ([]domain.JarPair, error) {
	list, err := a.Oversight.DuplicatesBetween(ctx, a.DB.Pool(), from, until)
	if err != nil {
		return nil, err
	}
	var codes []string
	for i := range list {
		codes = append(codes, list[i].Code, list[i].Original)
	}
	standing, err := a.Readings.Standing(ctx, a.DB.Pool(), codes...)
	if err != nil {
		return nil, err
	}
	var pairs []domain.JarPair
	for i := range list {
		for _, mine := range standing[list[i].Original] {
			if other := findFactor(standing[list[i].Code], mine.Factor); other != nil {
				pairs = append(pairs, domain.JarPair{Original: mine, Duplicate: *other})
			}
		}
	}
	return pairs, nil
}

// RetireControl takes a control out of use.
func (a *App) RetireControl(ctx context.Context, req *gradingv1.RetireControlRequest) (*gradingv1.Control, error) {
	id := strings.TrimPrefix(req.GetControl(), domain.ControlName(""))
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Control, []feed.Fact, error) {
		control, closedBy, err := a.lockControl(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		var closing *domain.ControlRun
		if closedBy != nil {
			run, err := a.Controls.ControlRun(ctx, tx, *closedBy)
			if err != nil {
				return nil, nil, err
			}
			closing = &run
		}
		r := domain.Retirement{By: access.From(ctx).Login, Reason: strings.TrimSpace(req.GetReason()), Time: a.now()}
		if err := control.Retire(&r, closing); err != nil {
			return nil, nil, err
		}
		return message.Control(&control, closedBy), nil, a.Oversight.SaveRetirement(ctx, tx, id, &r)
	})
}
