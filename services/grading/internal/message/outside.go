package message

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
)

// Analyte is something outside laboratories look for.
func Analyte(a *domain.Analyte) *gradingv1.Analyte {
	out := &gradingv1.Analyte{
		Id: a.ID, Words: a.Words, Unit: a.Unit, Low: a.Low.Format(1), High: a.High.Format(1), Residue: a.Residue, Source: a.Source, Provenance: a.Provenance,
	}
	if a.Most != nil {
		out.Most = a.Most.Format(1)
	}
	return out
}

// OutsideResult is one figure of a report.
func OutsideResult(r *domain.OutsideResult) *gradingv1.OutsideResult {
	out := &gradingv1.OutsideResult{
		Name: r.Name(), Sample: domain.SampleName(r.Sample), Analyte: r.Analyte.ID, Value: r.Found.String(), Unit: r.Analyte.Unit,
		Laboratory: r.Laboratory, Report: r.Report, State: gradingv1.OutsideState(gradingv1.OutsideState_value["OUTSIDE_STATE_"+string(r.State())]),
		Keyer: r.Keyer, KeyTime: timestamppb.New(r.KeyTime), Explanation: "Keyed once: a second person must key it from the report before it counts.",
	}
	if s := r.Second; s != nil {
		out.Second, out.SecondTime, out.Reason, out.Over, out.Explanation = s.Login, timestamppb.New(s.Time), s.Reason, s.Over, s.Explanation
		out.Reading = named("readings/", s.Reading)
	}
	return out
}

// ImportFaults is the answer of a dry run.
func ImportFaults(rows int, faults []domain.RowFault) *gradingv1.ImportOutsideResultsResponse {
	out := &gradingv1.ImportOutsideResultsResponse{RowCount: int32(rows)} //nolint:gosec // the file has at most 256 KiB
	for _, f := range faults {
		out.Faults = append(out.Faults, &gradingv1.ImportFault{Row: int32(f.Line), Field: f.Field, Message: f.Message}) //nolint:gosec // see above
	}
	return out
}

// Composite is a composite with what became of it. The maps are by code; results are those of any composites.
func Composite(c *domain.Composite, results []domain.OutsideResult, suspicions map[string][]domain.Suspect,
	disposals map[string]domain.Disposal, standing map[string][]domain.Reading,
) *gradingv1.Composite {
	out := &gradingv1.Composite{
		Name: c.Name(), Sample: domain.SampleName(c.Code), Variety: c.Variety, CropYear: c.CropYear, GramsEach: c.GramsEach.Format(1),
		Creator: c.Creator, CreateTime: timestamppb.New(c.Time), State: gradingv1.CompositeState_COMPOSITE_STATE_OPEN,
	}
	for i := range results {
		r := &results[i]
		switch {
		case r.Sample != c.Code || r.State() != domain.Confirmed:
		case r.Second.Over:
			out.State = gradingv1.CompositeState_COMPOSITE_STATE_EXPLODED
		case out.GetState() == gradingv1.CompositeState_COMPOSITE_STATE_OPEN:
			out.State = gradingv1.CompositeState_COMPOSITE_STATE_CLEAR
		}
	}
	for _, code := range c.Samples {
		sum, open := domain.SumUp(suspicions[code])
		out.Members = append(out.Members, &gradingv1.CompositeMember{
			Sample: domain.SampleName(code), Suspicion: gradingv1.Suspicion(gradingv1.Suspicion_value["SUSPICION_"+string(sum)]),
			Analytes: open, Disposition: disposition(disposals[code].Disposition),
		})
	}
	if v, ok := c.ExpectedMoisture(standing); ok {
		out.ExpectedMoisturePercent = domain.Moisture.Format(v)
	}
	return out
}

func disposition(d domain.Disposition) gradingv1.Disposition {
	return gradingv1.Disposition(gradingv1.Disposition_value["DISPOSITION_"+string(d)])
}

// Disposal is the decision on a sample.
func Disposal(d *domain.Disposal) *gradingv1.SampleDisposal {
	return &gradingv1.SampleDisposal{
		Sample: domain.SampleName(d.Sample), Disposition: disposition(d.Disposition), Reason: d.Reason, Decider: d.Decider, DecideTime: timestamppb.New(d.Time),
	}
}

// BiasLine is how one analyst reads one factor on one instrument.
func BiasLine(l *domain.BiasLine) *gradingv1.BiasLine {
	out := &gradingv1.BiasLine{
		Analyst: l.Analyst, Instrument: l.Instrument, Factor: Factor(l.Factor), ControlRunCount: int32(l.Runs), FailedRunCount: int32(l.Failed), //nolint:gosec // runs of one bench
		DuplicateCount: int32(l.Pairs), Attention: l.Attention, Explanation: l.Words(), //nolint:gosec // see above
	}
	if l.Runs > 0 {
		out.ControlBias, out.ControlBiasSigmas = l.Factor.Format(l.Bias), domain.SigmasText(l.BiasSigmas)
	}
	if l.Drifts {
		out.ControlDriftSigmas = domain.SigmasText(l.DriftSigmas)
	}
	if l.Pairs > 0 {
		out.DuplicateBias = l.Factor.Format(l.DuplicateBias)
	}
	return out
}
