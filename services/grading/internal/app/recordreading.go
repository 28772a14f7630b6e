package app

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
)

// RecordReading records one measurement of the caller.
func (a *App) RecordReading(ctx context.Context, req *gradingv1.RecordReadingRequest) (*gradingv1.Reading, error) {
	in := domain.Reading{
		Kind: domain.Kind(req.GetKind()), RawValue: req.GetRawValue(), Temperature: req.GetTemperatureC(),
		Instrument: req.GetInstrument(), Analyst: access.From(ctx).Login, Reason: req.GetReason(), Portion: domain.StoredPortion(PortionFrom(req.GetPortion())),
	}
	code, err := domain.SampleCode("sample", req.GetSample())
	if err != nil {
		return nil, err
	}
	in.Sample = code
	if err := domain.MayReadAlone(in.Kind); err != nil {
		return nil, err
	}
	// A reading no instrument shows is refused whether or not the sample is known.
	if _, err := domain.Measure(in.Kind, in.RawValue, in.Temperature); err != nil {
		return nil, err
	}
	return a.record(ctx, req, in, func(standing *domain.Reading, in domain.Reading) (domain.Reading, error) {
		return domain.NewReading(in, standing)
	})
}

// RecordRereads replaces a borderline reading by the mean of it and two more.
func (a *App) RecordRereads(ctx context.Context, req *gradingv1.RecordRereadsRequest) (*gradingv1.Reading, error) {
	in := domain.Reading{
		Kind: domain.Kind(req.GetKind()), Temperature: req.GetTemperatureC(), Instrument: req.GetInstrument(), Analyst: access.From(ctx).Login,
	}
	code, err := domain.SampleCode("sample", req.GetSample())
	if err != nil {
		return nil, err
	}
	in.Sample = code
	if err := domain.MayReadAlone(in.Kind); err != nil {
		return nil, err
	}
	return a.record(ctx, req, in, func(standing *domain.Reading, in domain.Reading) (domain.Reading, error) {
		return domain.NewMean(in, standing, req.GetRawValues())
	})
}

// decideReading makes the reading to save out of what came in and the reading of the factor that stands.
type decideReading func(standing *domain.Reading, in domain.Reading) (domain.Reading, error)

func (a *App) record(ctx context.Context, req idem.Request, in domain.Reading, decide decideReading) (*gradingv1.Reading, error) {
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.Reading, []feed.Fact, error) {
		if err := a.Controls.LockFactors(ctx, tx, in.Kind.Factor()); err != nil {
			return nil, nil, err
		}
		row, err := a.Bench.Lock(ctx, tx, in.Sample)
		if err != nil {
			return nil, nil, err
		}
		// The time is taken behind the lock: a control run before or after it is so by its time too.
		in.ID, in.Time = uuid.New(), a.now()
		gaps, err := a.gapsOf(ctx, tx, in.Sample)
		if err != nil {
			return nil, nil, err
		}
		if err := domain.MayReadPortion(in.Sample, in.Portion, gaps, in.Time); err != nil {
			return nil, nil, err
		}
		r, err := a.saveReading(ctx, tx, &row, in, decide)
		if err != nil {
			return nil, nil, err
		}
		answer := message.Reading(&r, a.house(&row.Sample))
		if row.Sample.Original != "" {
			// Neighbours never heard of a duplicate jar.
			return answer, nil, nil
		}
		return answer, []feed.Fact{{
			Aggregate: row.Sample.Name(), Payload: &gradingv1.ReadingRecorded{Reading: answer}, OccurTime: r.Time,
		}}, nil
	})
}

func (a *App) saveReading(ctx context.Context, tx pgx.Tx, row *BenchRow, in domain.Reading, decide decideReading) (domain.Reading, error) {
	all, err := a.Readings.Standing(ctx, tx, in.Sample)
	if err != nil {
		return domain.Reading{}, err
	}
	standing := all[in.Sample]
	r, err := decide(findFactor(standing, in.Kind.Factor()), in)
	if err != nil {
		return domain.Reading{}, err
	}
	if err := a.Readings.SaveReading(ctx, tx, &r); err != nil {
		return domain.Reading{}, err
	}
	standing = append(slices.DeleteFunc(standing, func(s domain.Reading) bool { return s.Factor == r.Factor }), r)
	if row.State, err = a.state(ctx, tx, a.house(&row.Sample), standing, row.Certificate != nil); err != nil {
		return domain.Reading{}, err
	}
	if err := a.Bench.SavePosition(ctx, tx, in.Sample, row.Position); err != nil {
		return domain.Reading{}, fmt.Errorf("record reading: %w", err)
	}
	return r, nil
}

func findFactor(standing []domain.Reading, f domain.Factor) *domain.Reading {
	at := slices.IndexFunc(standing, func(r domain.Reading) bool { return r.Factor == f })
	if at < 0 {
		return nil
	}
	return &standing[at]
}

// PortionFrom is the portion meant by the wire form; empty where it was not said.
func PortionFrom(p gradingv1.SamplePortion) string {
	switch p {
	case gradingv1.SamplePortion_SAMPLE_PORTION_A:
		return domain.PortionA
	case gradingv1.SamplePortion_SAMPLE_PORTION_B:
		return domain.PortionB
	case gradingv1.SamplePortion_SAMPLE_PORTION_C:
		return domain.PortionC
	case gradingv1.SamplePortion_SAMPLE_PORTION_UNSPECIFIED:
	}
	return ""
}
