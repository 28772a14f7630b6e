package message

import (
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
)

// Control is a reference material with its limits. closedBy is nil while the bench of its factor is open.
func Control(c *domain.Control, closedBy *uuid.UUID) *gradingv1.Control {
	f := c.Factor
	out := &gradingv1.Control{
		Name: c.Name(), Factor: Factor(f), Material: c.Material, Target: f.Format(c.Target), Sigma: f.Format(c.Sigma),
		WarningLow: f.Format(c.Target - 2*c.Sigma), WarningHigh: f.Format(c.Target + 2*c.Sigma),
		ActionLow: f.Format(c.Target - 3*c.Sigma), ActionHigh: f.Format(c.Target + 3*c.Sigma),
		Basis: c.Basis, Creator: c.Creator, CreateTime: timestamppb.New(c.Time), ClosedBy: named("controlRuns/", closedBy),
	}
	if r := c.Retired; r != nil {
		out.RetireTime, out.Retirer, out.RetireReason = timestamppb.New(r.Time), r.By, r.Reason
	}
	return out
}

// ControlRun is one run. doubted counts the readings it put in doubt.
func ControlRun(r *domain.ControlRun, doubted int32) *gradingv1.ControlRun {
	return &gradingv1.ControlRun{
		Name: r.Name(), Control: domain.ControlName(r.Control), Kind: Kind(r.Kind), RawValue: r.RawValue, TemperatureC: r.Temperature,
		Value: r.Kind.Factor().Format(r.Value), Verdict: gradingv1.ControlVerdict(gradingv1.ControlVerdict_value[verdictPrefix+string(r.Verdict)]),
		Instrument: r.Instrument, Analyst: r.Analyst, RunTime: timestamppb.New(r.Time), Explanation: r.Explanation, ResultsInDoubt: doubted,
	}
}

// DoubtedResults names the run; the caller adds what it put in doubt.
func DoubtedResults(run *domain.ControlRun, f domain.Factor, since time.Time) *gradingv1.DoubtedResults {
	out := &gradingv1.DoubtedResults{ControlRun: run.Name(), Factor: Factor(f)}
	if !since.IsZero() {
		out.SinceTime = timestamppb.New(since)
	}
	return out
}

// Duplicate is a second jar with how far it reads from the first.
func Duplicate(d *domain.Duplicate, differences []domain.Difference) *gradingv1.Duplicate {
	out := &gradingv1.Duplicate{
		Sample: domain.SampleName(d.Code), Original: domain.SampleName(d.Original), Creator: d.Creator, CreateTime: timestamppb.New(d.Time),
	}
	for i := range differences {
		one := &differences[i]
		out.Differences = append(out.Differences, &gradingv1.JarDifference{
			Factor: Factor(one.Factor), OriginalValue: one.Factor.Format(one.Original), DuplicateValue: one.Factor.Format(one.Duplicate),
			Most: one.Factor.Format(one.Most), Agrees: one.Agrees, Explanation: one.Words(),
		})
	}
	return out
}
