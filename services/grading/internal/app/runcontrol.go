package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/page"
)

// chartMemory is how many earlier runs the rules look back at: one less than the longest row.
const chartMemory = 6

// RecordControlRun records one measurement of a control, and closes or opens the bench by it.
func (a *App) RecordControlRun(ctx context.Context, req *gradingv1.RecordControlRunRequest) (*gradingv1.ControlRun, error) {
	in := domain.ControlRun{
		Control: strings.TrimPrefix(req.GetControl(), domain.ControlName("")), Kind: domain.Kind(req.GetKind()), RawValue: req.GetRawValue(),
		Temperature: req.GetTemperatureC(), Instrument: req.GetInstrument(), Analyst: access.From(ctx).Login,
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.ControlRun, []feed.Fact, error) {
		control, closedBy, err := a.lockControl(ctx, tx, in.Control)
		if err != nil {
			return nil, nil, err
		}
		in.ID, in.Time = uuid.New(), a.now()
		run, err := a.runControl(ctx, tx, &control, in)
		if err != nil {
			return nil, nil, err
		}
		return a.concludeRun(ctx, tx, &control, &run, closedBy)
	})
}

// lockControl reads a control behind the lock of its bench. The factor it is read for before never changes.
func (a *App) lockControl(ctx context.Context, tx pgx.Tx, id string) (domain.Control, *uuid.UUID, error) {
	control, err := a.Controls.Control(ctx, tx, id)
	if err != nil {
		return control, nil, err
	}
	closedBy, err := a.Controls.LockBench(ctx, tx, control.Factor)
	if err != nil {
		return control, nil, err
	}
	control, err = a.Controls.Control(ctx, tx, id)
	return control, closedBy, err
}

func (a *App) runControl(ctx context.Context, tx pgx.Tx, control *domain.Control, in domain.ControlRun) (domain.ControlRun, error) {
	rows, err := a.Controls.ControlRuns(ctx, tx, control.ID, 0, chartMemory)
	if err != nil {
		return in, err
	}
	before := make([]domain.ControlRun, 0, len(rows))
	for i := range rows {
		before = append(before, rows[i].Run)
	}
	return control.Run(in, before)
}

// concludeRun saves the run and does what its verdict demands.
func (a *App) concludeRun(ctx context.Context, tx pgx.Tx, control *domain.Control, run *domain.ControlRun, closedBy *uuid.UUID) (*gradingv1.ControlRun, []feed.Fact, error) {
	// Asked before the run is saved, which may itself be a pass.
	since, err := a.Controls.LastPass(ctx, tx, control.ID)
	if err != nil {
		return nil, nil, err
	}
	if err := a.Controls.SaveControlRun(ctx, tx, run); err != nil {
		return nil, nil, err
	}
	facts := func(made *gradingv1.ControlRun, more ...feed.Fact) []feed.Fact {
		first := feed.Fact{Aggregate: control.Name(), Payload: &gradingv1.ControlRunRecorded{Run: made}, OccurTime: run.Time}
		return append([]feed.Fact{first}, more...)
	}
	switch {
	case run.Verdict == domain.Fail:
		if err := a.Controls.Doubt(ctx, tx, control.Factor, since, run.ID); err != nil {
			return nil, nil, err
		}
		doubts, err := a.Controls.Doubted(ctx, tx, run.ID)
		if err != nil {
			return nil, nil, err
		}
		if err := a.replaceStates(ctx, tx, doubts); err != nil {
			return nil, nil, err
		}
		made := message.ControlRun(run, int32(len(doubts))) //nolint:gosec // a laboratory reads no two billion samples between two controls
		results := doubtedResults(run, control.Factor, since, doubts)
		return made, facts(made,
			feed.Fact{Aggregate: control.Name(), Payload: &gradingv1.BenchClosed{Factor: message.Factor(control.Factor), Run: made}, OccurTime: run.Time},
			feed.Fact{Aggregate: control.Name(), Payload: &gradingv1.ResultsReturnedToPending{Results: results, Explanation: run.Explanation}, OccurTime: run.Time},
		), a.Controls.SetBench(ctx, tx, control.Factor, &run.ID)
	case run.Verdict == domain.Pass && closedBy != nil:
		made := message.ControlRun(run, 0)
		return made, facts(made,
			feed.Fact{Aggregate: control.Name(), Payload: &gradingv1.BenchOpened{Factor: message.Factor(control.Factor), Run: made}, OccurTime: run.Time},
		), a.Controls.SetBench(ctx, tx, control.Factor, nil)
	default:
		made := message.ControlRun(run, 0)
		return made, facts(made), nil
	}
}

// ListControlRuns is the chart of a control.
func (a *App) ListControlRuns(ctx context.Context, req *gradingv1.ListControlRunsRequest) (*gradingv1.ListControlRunsResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list control runs: %w", err)
	}
	var before int64
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list control runs: %w", err)
	}
	id := strings.TrimPrefix(req.GetControl(), domain.ControlName(""))
	if _, err := a.Controls.Control(ctx, a.DB.Pool(), id); err != nil {
		return nil, err
	}
	rows, err := a.Controls.ControlRuns(ctx, a.DB.Pool(), id, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListControlRunsResponse{}
	rows, answer.NextPageToken = page.Cut(rows, size, req, func(r RunRow) any { return r.Sequence })
	for i := range rows {
		answer.Runs = append(answer.Runs, message.ControlRun(&rows[i].Run, rows[i].Doubted))
	}
	return answer, nil
}

// ConfirmResults takes the doubt of a failed run off its results.
func (a *App) ConfirmResults(ctx context.Context, req *gradingv1.ConfirmResultsRequest) (*gradingv1.DoubtedResults, error) {
	id, err := domain.ControlRunID(req.GetControlRun())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.DoubtedResults, []feed.Fact, error) {
		run, err := a.Controls.ControlRun(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		factor := run.Kind.Factor()
		if _, err := a.Controls.LockBench(ctx, tx, factor); err != nil {
			return nil, nil, err
		}
		doubts, err := a.Controls.Doubted(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		analysts := []string{run.Analyst}
		for _, d := range doubts {
			analysts = append(analysts, d.Analyst)
		}
		who := access.From(ctx).Login
		if err := domain.MayConfirm(&run, len(doubts), slices.Contains(analysts, who), who); err != nil {
			return nil, nil, err
		}
		if err := a.Controls.Confirm(ctx, tx, id, who, strings.TrimSpace(req.GetReason()), a.now()); err != nil {
			return nil, nil, err
		}
		if err := a.replaceStates(ctx, tx, doubts); err != nil {
			return nil, nil, err
		}
		results := doubtedResults(&run, factor, time.Time{}, doubts)
		return results, []feed.Fact{{
			Aggregate: domain.ControlName(run.Control), Payload: &gradingv1.ResultsConfirmed{Results: results, Reason: req.GetReason()},
		}}, nil
	})
}
