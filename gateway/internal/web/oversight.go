package web

import (
	"strconv"
	"strings"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// The RPCs behind the pages by which the laboratory looks at itself.
const (
	createControl = gradingv1.GradingService_CreateControl_FullMethodName
	retireControl = gradingv1.GradingService_RetireControl_FullMethodName
	reportBias    = gradingv1.GradingService_ReportBias_FullMethodName
	listViews     = gradingv1.GradingService_ListViews_FullMethodName
)

// oversightPages are reference materials, bias and drift, and who looked at what.
func (s *site) oversightPages() map[string]page {
	return map[string]page{
		"/controls/new":         {needs: createControl, show: s.newControl, form: true},
		"/controls/{id}/retire": {needs: retireControl, show: s.retireControl, form: true},
		"/bias":                 {needs: reportBias, show: s.bias},
		"/views":                {needs: listViews, show: s.views},
	}
}

// controlFactors are what a reference material can be known for.
var controlFactors = newOptions("MOISTURE", "Water", "COLOR", "Colour", "FLAVOR", "Flavour", "DEFECTS", "Absence of defects", "CLARITY", "Clarity", "HMF", "HMF", "DIASTASE", "Diastase", "CONDUCTIVITY", "Conductivity")

func (s *site) newControl(v *visit) (view, error) {
	f := v.form()
	f.set("factor", "MOISTURE")
	return s.plainTask(v, f, "newcontrol", "New reference material", map[string]any{"Factors": controlFactors}, func() (string, error) {
		runs, err := strconv.ParseInt("0"+f.Value("run_count"), 10, 32)
		if err != nil {
			runs = -1 // refused by the laboratory, which says what is wrong with it
		}
		_, err = s.grading.CreateControl(v.ctx, &gradingv1.CreateControlRequest{
			RequestId: f.RequestID, ControlId: strings.ToUpper(f.Value("control_id")), Material: f.Value("material"), Target: number(f.Value("target")),
			Sigma: number(f.Value("sigma")), Certificate: f.Value("certificate"), RunCount: int32(runs),
			Factor: gradingv1.Factor(gradingv1.Factor_value["FACTOR_"+f.Value("factor")]),
		})
		return "/controls", err
	})
}

func (s *site) retireControl(v *visit) (view, error) {
	f := v.form()
	id := v.PathValue("id")
	return s.plainTask(v, f, "retirecontrol", "Retire control "+id, map[string]any{"Control": id}, func() (string, error) {
		_, err := s.grading.RetireControl(v.ctx, &gradingv1.RetireControlRequest{RequestId: f.RequestID, Control: "controls/" + id, Reason: f.Value("reason")})
		return "/controls", err
	})
}

// bias says how each person and instrument reads controls and doubled jars.
func (s *site) bias(v *visit) (view, error) {
	query := v.URL.Query()
	f := v.form()
	d := map[string]any{"Form": f}
	found, err := s.grading.ReportBias(v.ctx, &gradingv1.ReportBiasRequest{FromDate: query.Get("from"), ToDate: query.Get("to")})
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	attention := 0
	for _, line := range found.GetLines() {
		if line.GetAttention() {
			attention++
		}
	}
	d["Lines"], d["Attention"] = found.GetLines(), attention
	return view{page: "bias", title: "Bias and drift", data: d}, nil
}

// under writes what people type as the wire names it; a whole name stays.
func under(collection, typed string) string {
	if typed == "" || strings.Contains(typed, "/") {
		return typed
	}
	if collection == "samples" {
		typed = strings.ToUpper(typed)
	}
	return collection + "/" + typed
}

// views is who looked at what, newest first.
func (s *site) views(v *visit) (view, error) {
	query := v.URL.Query()
	f := v.form()
	d := map[string]any{"Form": f}
	found, err := s.grading.ListViews(v.ctx, &gradingv1.ListViewsRequest{
		PageSize: 100, PageToken: query.Get("page"), Resource: under("samples", f.Value("resource")), Viewer: under("users", f.Value("viewer")),
	})
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	d["Views"], d["Next"] = found.GetViews(), nextPage(v, found.GetNextPageToken())
	return view{page: "views", title: "Who saw what", data: d}, nil
}
