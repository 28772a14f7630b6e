package gatetest

import (
	"context"
	"time"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// Names of what other laboratories found.
const (
	CompositeCode  = "K7PD3WQX9"
	KeyedResultID  = "0d150000-0000-4000-8000-000000000001"
	singleResultID = "0d150000-0000-4000-8000-000000000002"
	retiredControl = "CH-2025-3"
)

func outsideResults() []*gradingv1.OutsideResult {
	return []*gradingv1.OutsideResult{
		{Name: "outsideResults/" + KeyedResultID, Sample: "samples/" + WaitingCode, Analyte: "TYLOSIN", Unit: "µg/kg", Laboratory: "Ridge Analytical", Report: "R-2026-118", State: gradingv1.OutsideState_OUTSIDE_STATE_KEYED, Keyer: "users/lab1", KeyTime: at(time.Hour)},
		{
			Name: "outsideResults/" + singleResultID, Sample: "samples/" + CompositeCode, Analyte: "TYLOSIN", Value: "140", Unit: "µg/kg", Laboratory: "Ridge Analytical", Report: "R-2026-117", State: gradingv1.OutsideState_OUTSIDE_STATE_CONFIRMED,
			Keyer: "users/lab1", KeyTime: at(30 * time.Hour), Second: "users/lab2", SecondTime: at(29 * time.Hour), Over: true, Explanation: "140.0 µg/kg tylosin: over the 100.0 µg/kg of the house.",
		},
	}
}

func composite() *gradingv1.Composite {
	return &gradingv1.Composite{
		Name: "composites/" + CompositeCode, Sample: "samples/" + CompositeCode, Variety: "clover", CropYear: 2026, GramsEach: "25.0", Creator: "users/lead1", CreateTime: at(40 * time.Hour),
		State: gradingv1.CompositeState_COMPOSITE_STATE_EXPLODED, ExpectedMoisturePercent: "17.6", Members: []*gradingv1.CompositeMember{
			{Sample: "samples/" + WaitingCode, Suspicion: gradingv1.Suspicion_SUSPICION_OPEN, Analytes: []string{"TYLOSIN"}},
			{Sample: "samples/N5RCJT7Y9", Suspicion: gradingv1.Suspicion_SUSPICION_CLEARED},
			{Sample: "samples/" + MeasuredCode, Suspicion: gradingv1.Suspicion_SUSPICION_CONFIRMED},
		},
	}
}

func (h *House) ListComposites(ctx context.Context, r *gradingv1.ListCompositesRequest) (*gradingv1.ListCompositesResponse, error) {
	return &gradingv1.ListCompositesResponse{Composites: []*gradingv1.Composite{composite()}}, h.note(ctx, r)
}

func (h *House) GetComposite(ctx context.Context, r *gradingv1.GetCompositeRequest) (*gradingv1.Composite, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, []*gradingv1.Composite{composite()}, r.GetName(), nil)
}

func (h *House) CreateComposite(ctx context.Context, r *gradingv1.CreateCompositeRequest) (*gradingv1.Composite, error) {
	return composite(), h.note(ctx, r)
}

func (h *House) ListAnalytes(ctx context.Context, r *gradingv1.ListAnalytesRequest) (*gradingv1.ListAnalytesResponse, error) {
	return &gradingv1.ListAnalytesResponse{Analytes: []*gradingv1.Analyte{
		{Id: "HMF", Words: "HMF", Unit: "mg/kg"}, {Id: "TYLOSIN", Words: "tylosin", Unit: "µg/kg", Residue: true, Most: "100"},
	}}, h.note(ctx, r)
}

func (h *House) ListOutsideResults(ctx context.Context, r *gradingv1.ListOutsideResultsRequest) (*gradingv1.ListOutsideResultsResponse, error) {
	return &gradingv1.ListOutsideResultsResponse{Results: outsideResults()}, h.note(ctx, r)
}

func (h *House) KeyOutsideResult(ctx context.Context, r *gradingv1.KeyOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	return outsideResults()[0], h.note(ctx, r)
}

func (h *House) ConfirmOutsideResult(ctx context.Context, r *gradingv1.ConfirmOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	return outsideResults()[1], h.note(ctx, r)
}

func (h *House) WithdrawOutsideResult(ctx context.Context, r *gradingv1.WithdrawOutsideResultRequest) (*gradingv1.OutsideResult, error) {
	return outsideResults()[0], h.note(ctx, r)
}

func (h *House) ImportOutsideResults(ctx context.Context, r *gradingv1.ImportOutsideResultsRequest) (*gradingv1.ImportOutsideResultsResponse, error) {
	answer := &gradingv1.ImportOutsideResultsResponse{RowCount: 2}
	switch {
	case string(r.GetContent()) == "broken":
		answer.Faults = []*gradingv1.ImportFault{{Row: 1, Message: "the first line must be sample,analyte,value,laboratory,report"}}
	case !r.GetDryRun():
		answer.Results = outsideResults()
	}
	return answer, h.note(ctx, r)
}

func (h *House) DisposeSample(ctx context.Context, r *gradingv1.DisposeSampleRequest) (*gradingv1.SampleDisposal, error) {
	return &gradingv1.SampleDisposal{Sample: r.GetSample(), Disposition: r.GetDisposition()}, h.note(ctx, r)
}

func (h *House) CreateControl(ctx context.Context, r *gradingv1.CreateControlRequest) (*gradingv1.Control, error) {
	return &gradingv1.Control{Name: "controls/" + r.GetControlId()}, h.note(ctx, r)
}

func (h *House) RetireControl(ctx context.Context, r *gradingv1.RetireControlRequest) (*gradingv1.Control, error) {
	return &gradingv1.Control{Name: "controls/" + retiredControl}, h.note(ctx, r)
}

func (h *House) ReportBias(ctx context.Context, r *gradingv1.ReportBiasRequest) (*gradingv1.ReportBiasResponse, error) {
	return &gradingv1.ReportBiasResponse{Lines: []*gradingv1.BiasLine{
		{Analyst: "users/lab1", Instrument: "RF-2", Factor: gradingv1.Factor_FACTOR_MOISTURE, ControlRunCount: 22, FailedRunCount: 1, DuplicateCount: 3, Attention: true, Explanation: "controls read 0.12 % high, 1.2 standard deviations"},
		{Analyst: "users/lab2", Instrument: "RF-1", Factor: gradingv1.Factor_FACTOR_MOISTURE, ControlRunCount: 18, DuplicateCount: 3, Explanation: "controls read 0.01 % low"},
	}}, h.note(ctx, r)
}

func (h *House) ListViews(ctx context.Context, r *gradingv1.ListViewsRequest) (*gradingv1.ListViewsResponse, error) {
	return &gradingv1.ListViewsResponse{Views: []*gradingv1.View{
		{Viewer: "users/lab1", Resource: "samples/" + WaitingCode, Method: "GetSample", ViewTime: at(time.Hour)},
	}}, h.note(ctx, r)
}
