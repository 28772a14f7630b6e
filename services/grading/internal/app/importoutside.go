package app

import (
	"context"
	"errors"
	"slices"

	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
)

// ImportOutsideResults keys a file, all rows or none. A dry run stores nothing and lists every fault.
func (a *App) ImportOutsideResults(ctx context.Context, req *gradingv1.ImportOutsideResultsRequest) (*gradingv1.ImportOutsideResultsResponse, error) {
	rows, faults := domain.ReadOutsideRows(req.GetContent())
	if req.GetDryRun() {
		more, err := a.rowFaults(ctx, a.DB.Pool(), rows)
		return message.ImportFaults(len(rows), sortFaults(append(faults, more...))), err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.ImportOutsideResultsResponse, []feed.Fact, error) {
		var codes []string
		for i := range rows {
			codes = append(codes, rows[i].Sample)
		}
		slices.Sort(codes)
		if err := a.Outside.LockCodes(ctx, tx, slices.Compact(codes)...); err != nil {
			return nil, nil, err
		}
		more, err := a.rowFaults(ctx, tx, rows)
		if err != nil {
			return nil, nil, err
		}
		if err := refuseRows(sortFaults(append(faults, more...))); err != nil {
			return nil, nil, err
		}
		answer := &gradingv1.ImportOutsideResultsResponse{RowCount: int32(len(rows))} //nolint:gosec // at most 1000
		for i := range rows {
			r, err := a.keyOutside(ctx, tx, &rows[i])
			if err != nil {
				return nil, nil, err
			}
			answer.Results = append(answer.Results, message.OutsideResult(r))
		}
		return answer, nil, nil
	})
}

// rowFaults finds what only the records can tell: samples that are not known, and figures that were keyed before.
func (a *App) rowFaults(ctx context.Context, q pg.Querier, rows []domain.OutsideRow) ([]domain.RowFault, error) {
	var faults []domain.RowFault
	for i := range rows {
		err := a.mayKey(ctx, q, &rows[i])
		var named interface{ Reason() string }
		switch {
		case errors.As(err, &named):
			faults = append(faults, domain.RowFault{Line: rows[i].Line, Field: "sample", Message: err.Error()})
		case err != nil:
			return nil, err
		}
	}
	return faults, nil
}

func sortFaults(faults []domain.RowFault) []domain.RowFault {
	slices.SortStableFunc(faults, func(a, b domain.RowFault) int { return a.Line - b.Line })
	return faults
}

func refuseRows(faults []domain.RowFault) error {
	var errs []error
	for _, f := range faults {
		errs = append(errs, f.Err())
	}
	return errors.Join(errs...)
}
