package app

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
)

// ControlRow is a control with the run that keeps its bench closed.
type ControlRow struct {
	Control  domain.Control
	ClosedBy *uuid.UUID
	// Last is the newest run, nil before the first.
	Last *RunRow
}

// RunRow is a run with its place in the chart and how many readings it put in doubt.
type RunRow struct {
	Sequence int64
	Run      domain.ControlRun
	Doubted  int32
}

// Doubt is one reading in doubt. Certificate is the standing one that rests on it, nil for none.
type Doubt struct {
	Reading     uuid.UUID
	Sample      string
	Analyst     string
	Certificate *uuid.UUID
}

// Controls holds reference materials, their runs and what they put in doubt.
type Controls interface {
	// LockFactors fails with *domain.BenchClosedError. Locks are taken before those of samples.
	LockFactors(ctx context.Context, tx pgx.Tx, factors ...domain.Factor) error
	LockBench(ctx context.Context, tx pgx.Tx, f domain.Factor) (closedBy *uuid.UUID, err error)
	SetBench(ctx context.Context, tx pgx.Tx, f domain.Factor, closedBy *uuid.UUID) error
	LockSamples(ctx context.Context, tx pgx.Tx, codes []string) error
	// SaveControl fails with *domain.TakenError.
	SaveControl(ctx context.Context, tx pgx.Tx, c *domain.Control) error
	Control(ctx context.Context, q pg.Querier, id string) (domain.Control, error)
	Controls(ctx context.Context, q pg.Querier) ([]ControlRow, error)
	SaveControlRun(ctx context.Context, tx pgx.Tx, r *domain.ControlRun) error
	ControlRun(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.ControlRun, error)
	ControlRuns(ctx context.Context, q pg.Querier, control string, before int64, most int) ([]RunRow, error)
	LastPass(ctx context.Context, q pg.Querier, control string) (time.Time, error)
	Doubt(ctx context.Context, tx pgx.Tx, f domain.Factor, since time.Time, run uuid.UUID) error
	Confirm(ctx context.Context, tx pgx.Tx, run uuid.UUID, by, reason string, at time.Time) error
	Doubted(ctx context.Context, q pg.Querier, run uuid.UUID) ([]Doubt, error)
	InDoubt(ctx context.Context, q pg.Querier, ids []uuid.UUID) (map[uuid.UUID]bool, error)
	CertificateOf(ctx context.Context, q pg.Querier, codes []string) (map[string]uuid.UUID, error)
}

// CreateControl introduces a reference material.
func (a *App) CreateControl(ctx context.Context, req *gradingv1.CreateControlRequest) (*gradingv1.Control, error) {
	c, err := domain.NewControl(domain.Control{
		ID: req.GetControlId(), Factor: domain.Factor(req.GetFactor()), Material: req.GetMaterial(), Creator: access.From(ctx).Login,
	}, req.GetTarget(), req.GetSigma(), req.GetCertificate(), int(req.GetRunCount()))
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Control, []feed.Fact, error) {
		c.Time = a.now()
		closedBy, err := a.Controls.LockBench(ctx, tx, c.Factor)
		if err != nil {
			return nil, nil, err
		}
		if err := a.Controls.SaveControl(ctx, tx, &c); err != nil {
			return nil, nil, err
		}
		return message.Control(&c, closedBy), nil, nil
	})
}

// ListControls lists every control.
func (a *App) ListControls(ctx context.Context, _ *gradingv1.ListControlsRequest) (*gradingv1.ListControlsResponse, error) {
	rows, err := a.Controls.Controls(ctx, a.DB.Pool())
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListControlsResponse{}
	for i := range rows {
		one := message.Control(&rows[i].Control, rows[i].ClosedBy)
		if last := rows[i].Last; last != nil {
			one.LastRun = message.ControlRun(&last.Run, last.Doubted)
			if rows[i].Control.Retired == nil {
				one.DueTime = timestamppb.New(last.Run.Time.Add(domain.House().ControlEvery))
			}
		}
		answer.Controls = append(answer.Controls, one)
	}
	return answer, nil
}

// doubtedResults names what a run put in doubt.
func doubtedResults(run *domain.ControlRun, f domain.Factor, since time.Time, doubts []Doubt) *gradingv1.DoubtedResults {
	results := message.DoubtedResults(run, f, since)
	for _, d := range doubts {
		results.Readings = append(results.Readings, domain.ReadingName(d.Reading))
		if name := domain.SampleName(d.Sample); !slices.Contains(results.GetSamples(), name) {
			results.Samples = append(results.Samples, name)
		}
		if d.Certificate == nil {
			continue
		}
		if name := domain.CertificateName(*d.Certificate); !slices.Contains(results.GetCertificates(), name) {
			results.Certificates = append(results.Certificates, name)
		}
	}
	return results
}

// replaceStates works the states of samples out anew after a doubt came or went. The caller holds the bench of the factor.
func (a *App) replaceStates(ctx context.Context, tx pgx.Tx, doubts []Doubt) error {
	var codes []string
	for _, d := range doubts {
		codes = append(codes, d.Sample)
	}
	slices.Sort(codes)
	codes = slices.Compact(codes)
	if err := a.Controls.LockSamples(ctx, tx, codes); err != nil {
		return err
	}
	standing, err := a.Readings.Standing(ctx, tx, codes...)
	if err != nil {
		return err
	}
	certified, err := a.Controls.CertificateOf(ctx, tx, codes)
	if err != nil {
		return err
	}
	for _, code := range codes {
		row, err := a.Bench.Sample(ctx, tx, code)
		if err != nil {
			return err
		}
		p := Position{}
		if id, ok := certified[code]; ok {
			p.Certificate = &id
		}
		if p.State, err = a.state(ctx, tx, a.house(&row.Sample), standing[code], p.Certificate != nil); err != nil {
			return err
		}
		if err := a.Bench.SavePosition(ctx, tx, code, p); err != nil {
			return err
		}
	}
	return nil
}

// state works out where a sample with these standing readings stands by the version of the house standard it was drawn under.
func (a *App) state(ctx context.Context, tx pgx.Tx, house *domain.Standard, standing []domain.Reading, certified bool) (domain.SampleState, error) {
	inDoubt, err := a.inDoubt(ctx, tx, standing)
	if err != nil {
		return 0, err
	}
	var gaps []domain.CustodyGap
	if len(standing) > 0 {
		if gaps, err = a.gapsOf(ctx, tx, standing[0].Sample); err != nil {
			return 0, err
		}
	}
	doubted := func(r domain.Reading) bool { return inDoubt[r.ID] || r.Spoiled(gaps) != nil }
	return domain.StateOf(house, func(f domain.Factor) bool { return findFactor(standing, f) != nil }, slices.ContainsFunc(standing, doubted), certified), nil
}

func (a *App) inDoubt(ctx context.Context, tx pgx.Tx, readings []domain.Reading) (map[uuid.UUID]bool, error) {
	ids := make([]uuid.UUID, 0, len(readings))
	for i := range readings {
		ids = append(ids, readings[i].ID)
	}
	return a.Controls.InDoubt(ctx, tx, ids)
}
