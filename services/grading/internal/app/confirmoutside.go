package app

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
)

// ConfirmOutsideResult keys a figure for the second time; from then on it counts.
func (a *App) ConfirmOutsideResult(ctx context.Context, req *gradingv1.ConfirmOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	id, err := domain.OutsideID(req.GetName())
	if err != nil {
		return nil, err
	}
	return idem.Do(ctx, a.DB, a.Clock, req, func(ctx context.Context, tx pgx.Tx) (*gradingv1.OutsideResult, []feed.Fact, error) {
		r, err := a.lockOutside(ctx, tx, id)
		if err != nil {
			return nil, nil, err
		}
		second, err := r.Confirm(req.GetValue(), access.From(ctx).Login, a.now())
		if err != nil {
			return nil, nil, err
		}
		r.Second = &second
		of, err := a.subjectOf(ctx, tx, r.Sample)
		if err != nil {
			return nil, nil, err
		}
		facts, err := a.asReading(ctx, tx, &r, of.composite != nil)
		if err != nil {
			return nil, nil, err
		}
		if err := a.Outside.SaveOutsideSecond(ctx, tx, id, &second); err != nil {
			return nil, nil, err
		}
		more, err := a.concludeOutside(ctx, tx, &r, &of)
		return message.OutsideResult(&r), append(facts, more...), err
	})
}

// asReading puts a confirmed figure of a sample on its bench, where standards judge it. A composite has no bench.
func (a *App) asReading(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult, composite bool) ([]feed.Fact, error) {
	if r.Analyte.Kind == 0 || composite {
		return nil, nil
	}
	row, err := a.Bench.Lock(ctx, tx, r.Sample)
	if err != nil {
		return nil, err
	}
	in := domain.Reading{
		ID: uuid.New(), Sample: r.Sample, Kind: r.Analyte.Kind, RawValue: r.Found.ReadingRaw(), Instrument: r.Laboratory,
		Analyst: r.Keyer, Time: r.Second.Time, Reason: "report " + r.Report,
	}
	reading, err := a.saveReading(ctx, tx, &row, in, func(standing *domain.Reading, in domain.Reading) (domain.Reading, error) {
		made, err := domain.NewReading(in, standing)
		made.Explanation = fmt.Sprintf("%s keyed %s of report %s, confirmed by %s. %s", r.Keyer, r.Found, r.Report, r.Second.Login, made.Explanation)
		return made, err
	})
	if err != nil {
		return nil, err
	}
	r.Second.Reading = &reading.ID
	if row.Sample.Original != "" {
		return nil, nil // neighbours never heard of a duplicate jar
	}
	return []feed.Fact{{
		Aggregate: row.Sample.Name(), Payload: &gradingv1.ReadingRecorded{Reading: message.Reading(&reading, a.house(&row.Sample))}, OccurTime: reading.Time,
	}}, nil
}

// concludeOutside draws what follows from a residue: a composite over the limit says whom to test, and the test of a
// sample itself clears or confirms it.
func (a *App) concludeOutside(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult, of *subject) ([]feed.Fact, error) {
	switch {
	case !r.Analyte.Residue:
		return nil, nil
	case of.composite != nil && r.Second.Over:
		return a.suspect(ctx, tx, r, of.samples, of.composite.Name())
	case of.composite != nil:
		return nil, nil
	case r.Second.Over:
		return a.confirmResidue(ctx, tx, r, of.samples[0])
	default:
		return a.clear(ctx, tx, r, of.samples[0])
	}
}

func (a *App) suspect(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult, codes []string, composite string) ([]feed.Fact, error) {
	if err := a.Outside.Suspect(ctx, tx, codes, r.Analyte.ID, r.ID); err != nil {
		return nil, err
	}
	fact := &gradingv1.ResidueSuspected{Composite: composite, Analyte: r.Analyte.ID, Result: message.OutsideResult(r), Explanation: r.Second.Explanation}
	for _, code := range codes {
		fact.Samples = append(fact.Samples, domain.SampleName(code))
	}
	if composite != "" {
		fact.Explanation += fmt.Sprintf(" Each of its %d samples must be tested singly.", len(codes))
	}
	return []feed.Fact{{Aggregate: r.Name(), Payload: fact, OccurTime: r.Second.Time}}, nil
}

// confirmResidue ends the suspicion of a sample by its own result. One nobody suspected is held by the same fact.
func (a *App) confirmResidue(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult, code string) ([]feed.Fact, error) {
	ended, err := a.Outside.EndSuspicions(ctx, tx, code, r.Analyte.ID, r.ID, true)
	if err != nil {
		return nil, err
	}
	var facts []feed.Fact
	if ended == 0 {
		if facts, err = a.suspect(ctx, tx, r, []string{code}, ""); err != nil {
			return nil, err
		}
		if _, err := a.Outside.EndSuspicions(ctx, tx, code, r.Analyte.ID, r.ID, true); err != nil {
			return nil, err
		}
	}
	return append(facts, feed.Fact{Aggregate: domain.SampleName(code), OccurTime: r.Second.Time, Payload: &gradingv1.ResidueConfirmed{
		Sample: domain.SampleName(code), Analyte: r.Analyte.ID, Result: message.OutsideResult(r), Explanation: r.Second.Explanation,
	}}), nil
}

// clear ends the suspicion of an analyte; once nothing is suspected of the sample any more the neighbours are told.
func (a *App) clear(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult, code string) ([]feed.Fact, error) {
	ended, err := a.Outside.EndSuspicions(ctx, tx, code, r.Analyte.ID, r.ID, false)
	if err != nil || ended == 0 {
		return nil, err
	}
	all, err := a.Outside.Suspicions(ctx, tx, []string{code})
	if err != nil {
		return nil, err
	}
	if sum, _ := domain.SumUp(all[code]); sum != domain.SuspicionCleared {
		return nil, nil
	}
	fact := &gradingv1.SampleCleared{Sample: domain.SampleName(code), Result: message.OutsideResult(r), Explanation: r.Second.Explanation}
	for _, s := range all[code] {
		fact.Suspicions = append(fact.Suspicions, domain.OutsideName(s.Result))
	}
	return []feed.Fact{{Aggregate: domain.SampleName(code), OccurTime: r.Second.Time, Payload: fact}}, nil
}
