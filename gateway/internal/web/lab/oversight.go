package lab

import (
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
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
func (s room) oversightPages() map[string]site.Page {
	return map[string]site.Page{
		"/controls/new":         {Needs: createControl, Show: s.newControl, Form: true},
		"/controls/{id}/retire": {Needs: retireControl, Show: s.retireControl, Form: true},
		"/bias":                 {Needs: reportBias, Show: s.bias},
		"/views":                {Needs: listViews, Show: s.views},
	}
}

// controlFactors are what a reference material can be known for.
var controlFactors = site.NewOptions("MOISTURE", "Water", "COLOR", "Colour", "FLAVOR", "Flavour", "DEFECTS", "Absence of defects", "CLARITY", "Clarity", "HMF", "HMF", "DIASTASE", "Diastase", "CONDUCTIVITY", "Conductivity")

func (s room) newControl(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("factor", "MOISTURE")
	return s.PlainTask(v, f, "newcontrol", "New reference material", map[string]any{"Factors": controlFactors}, func() (string, error) {
		runs, err := strconv.ParseInt("0"+f.Value("run_count"), 10, 32)
		if err != nil {
			runs = -1 // refused by the laboratory, which says what is wrong with it
		}
		_, err = s.Grading.CreateControl(v.Ctx, &gradingv1.CreateControlRequest{
			RequestId: f.RequestID, ControlId: strings.ToUpper(f.Value("control_id")), Material: f.Value("material"), Target: site.Number(f.Value("target")),
			Sigma: site.Number(f.Value("sigma")), Certificate: f.Value("certificate"), RunCount: int32(runs),
			Factor: gradingv1.Factor(gradingv1.Factor_value["FACTOR_"+f.Value("factor")]),
		})
		return "/controls", err
	})
}

func (s room) retireControl(v *site.Visit) (site.View, error) {
	f := v.Form()
	id := v.PathValue("id")
	return s.PlainTask(v, f, "retirecontrol", "Retire control "+id, map[string]any{"Control": id}, func() (string, error) {
		_, err := s.Grading.RetireControl(v.Ctx, &gradingv1.RetireControlRequest{RequestId: f.RequestID, Control: "controls/" + id, Reason: f.Value("reason")})
		return "/controls", err
	})
}

// bias says how each person and instrument reads controls and doubled jars.
func (s room) bias(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	f := v.Form()
	d := map[string]any{"Form": f}
	found, err := s.Grading.ReportBias(v.Ctx, &gradingv1.ReportBiasRequest{FromDate: query.Get("from"), ToDate: query.Get("to")})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	attention := 0
	for _, line := range found.GetLines() {
		if line.GetAttention() {
			attention++
		}
	}
	d["Lines"], d["Attention"] = found.GetLines(), attention
	return site.View{Page: "bias", Title: "Bias and drift", Data: d}, nil
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
func (s room) views(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	f := v.Form()
	d := map[string]any{"Form": f}
	found, err := s.Grading.ListViews(v.Ctx, &gradingv1.ListViewsRequest{
		PageSize: 100, PageToken: query.Get("page"), Resource: under("samples", f.Value("resource")), Viewer: under("users", f.Value("viewer")),
	})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	d["Views"], d["Next"] = found.GetViews(), site.NextPage(v, found.GetNextPageToken())
	return site.View{Page: "views", Title: "Who saw what", Data: d}, nil
}

// looked says how somebody came to see a record: by its page, or in a list of many.
func looked(method string) string {
	if strings.HasPrefix(method, "List") {
		return "in a list"
	}
	return "opened"
}
