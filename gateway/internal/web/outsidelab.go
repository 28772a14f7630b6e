package web

import (
	"net/http"
	"regexp"
	"slices"
	"strings"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/apierr"
)

// The RPCs behind the pages of composites and of outside laboratories.
const (
	listComposites  = gradingv1.GradingService_ListComposites_FullMethodName
	getComposite    = gradingv1.GradingService_GetComposite_FullMethodName
	createComposite = gradingv1.GradingService_CreateComposite_FullMethodName
	listOutside     = gradingv1.GradingService_ListOutsideResults_FullMethodName
	keyOutside      = gradingv1.GradingService_KeyOutsideResult_FullMethodName
	confirmOutside  = gradingv1.GradingService_ConfirmOutsideResult_FullMethodName
	withdrawOutside = gradingv1.GradingService_WithdrawOutsideResult_FullMethodName
	importOutside   = gradingv1.GradingService_ImportOutsideResults_FullMethodName
	disposeSample   = gradingv1.GradingService_DisposeSample_FullMethodName
)

// outsidePages are composites, what outside laboratories found, and what follows from it.
func (s *site) outsidePages() map[string]page {
	return map[string]page{
		"/composites":            {needs: listComposites, show: s.composites},
		"/composites/new":        {needs: createComposite, show: s.newComposite, form: true},
		"/composites/{code}":     {needs: getComposite, show: s.composite},
		"/outside":               {needs: listOutside, show: s.outside},
		"/outside/new":           {needs: keyOutside, show: s.keyOutside, form: true},
		"/outside/import":        {needs: importOutside, show: s.importOutside, form: true},
		"/outside/{id}/confirm":  {needs: confirmOutside, show: s.confirmOutside, form: true},
		"/outside/{id}/withdraw": {needs: withdrawOutside, show: s.withdrawOutside, form: true},
		"/bench/{code}/dispose":  {needs: disposeSample, show: s.disposeSample, form: true},
	}
}

func (s *site) composites(v *visit) (view, error) {
	found, err := s.grading.ListComposites(v.ctx, &gradingv1.ListCompositesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	exploded := 0
	for _, c := range found.GetComposites() {
		if open, _, _ := fates(c); open > 0 {
			exploded++
		}
	}
	return view{page: "composites", title: "Composites", data: map[string]any{
		"Composites": found.GetComposites(), "Exploded": exploded, "MayMix": v.mayCall(createComposite), "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// fates counts the members still to be tested singly, cleared, and confirmed.
func fates(c *gradingv1.Composite) (open, cleared, confirmed int) {
	for _, m := range c.GetMembers() {
		switch m.GetSuspicion() {
		case gradingv1.Suspicion_SUSPICION_OPEN:
			open++
		case gradingv1.Suspicion_SUSPICION_CLEARED:
			cleared++
		case gradingv1.Suspicion_SUSPICION_CONFIRMED:
			confirmed++
		case gradingv1.Suspicion_SUSPICION_UNSPECIFIED: // never under suspicion
		}
	}
	return open, cleared, confirmed
}

// jarCodes are codes typed, scanned or pasted with anything between them.
var jarCodes = regexp.MustCompile(`[^0-9A-Za-z]+`)

func typedSamples(text string) []string {
	var names []string
	for _, code := range jarCodes.Split(strings.ToUpper(text), -1) {
		if code != "" && code != "SAMPLES" {
			names = append(names, "samples/"+code)
		}
	}
	return names
}

func (s *site) newComposite(v *visit) (view, error) {
	f := v.form()
	f.set("grams_each", "25")
	return s.plainTask(v, f, "newcomposite", "Mix a composite", map[string]any{}, func() (string, error) {
		made, err := s.grading.CreateComposite(v.ctx, &gradingv1.CreateCompositeRequest{
			RequestId: f.RequestID, Samples: typedSamples(f.Value("samples")), GramsEach: number(f.Value("grams_each")),
		})
		return "/composites/" + idOf(made.GetName()), err
	})
}

func (s *site) composite(v *visit) (view, error) {
	c, err := s.grading.GetComposite(v.ctx, &gradingv1.GetCompositeRequest{Name: "composites/" + v.PathValue("code")})
	if err != nil {
		return view{}, err
	}
	open, cleared, confirmed := fates(c)
	return view{page: "composite", title: "Composite " + idOf(c.GetName()), data: map[string]any{
		"Composite": c, "Open": open, "Cleared": cleared, "Confirmed": confirmed, "MayKey": v.mayCall(keyOutside), "MayDispose": v.mayCall(disposeSample),
	}}, nil
}

// outside lists results; those that wait for a second person come first.
func (s *site) outside(v *visit) (view, error) {
	query := v.URL.Query()
	req := &gradingv1.ListOutsideResultsRequest{PageSize: 100, PageToken: query.Get("page")}
	if code := strings.ToUpper(strings.TrimSpace(query.Get("sample"))); code != "" {
		req.Sample = "samples/" + code
	}
	found, err := s.grading.ListOutsideResults(v.ctx, req)
	if err != nil {
		return view{}, err
	}
	results := found.GetResults()
	keyed := func(r *gradingv1.OutsideResult) bool {
		return r.GetState() == gradingv1.OutsideState_OUTSIDE_STATE_KEYED
	}
	waiting := slices.DeleteFunc(slices.Clone(results), func(r *gradingv1.OutsideResult) bool { return !keyed(r) })
	return view{page: "outside", title: "Outside results", data: map[string]any{
		"Waiting": waiting, "Done": slices.DeleteFunc(slices.Clone(results), keyed), "Next": nextPage(v, found.GetNextPageToken()),
		"MayKey": v.mayCall(keyOutside), "Me": "users/" + v.who.Name,
	}}, nil
}

// analyteOptions are what outside laboratories look for, with the unit they report in.
func (s *site) analyteOptions(v *visit) ([]option, error) {
	found, err := s.grading.ListAnalytes(v.ctx, &gradingv1.ListAnalytesRequest{})
	if err != nil {
		return nil, err
	}
	var options []option
	for _, a := range found.GetAnalytes() {
		options = append(options, option{Value: a.GetId(), Label: strings.TrimSuffix(sentence(a.GetWords()), ".") + ", " + a.GetUnit()})
	}
	return options, nil
}

// keyOutside keys one figure of a report and comes back for the next of the same report.
func (s *site) keyOutside(v *visit) (view, error) {
	analytes, err := s.analyteOptions(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "keyoutside", "Key a result", map[string]any{"Analytes": analytes}, func() (string, error) {
		_, err := s.grading.KeyOutsideResult(v.ctx, &gradingv1.KeyOutsideResultRequest{
			RequestId: f.RequestID, Sample: "samples/" + strings.ToUpper(f.Value("sample")), Analyte: f.Value("analyte"),
			Value: number(f.Value("value")), Laboratory: f.Value("laboratory"), Report: f.Value("report"),
		})
		return "/outside", err
	})
}

// readOutside finds a result by its id. The value of one that waits is hidden from the second person.
func (s *site) readOutside(v *visit) (*gradingv1.OutsideResult, error) {
	name, token := "outsideResults/"+v.PathValue("id"), ""
	for {
		found, err := s.grading.ListOutsideResults(v.ctx, &gradingv1.ListOutsideResultsRequest{PageSize: 1000, PageToken: token})
		if err != nil {
			return nil, err
		}
		for _, r := range found.GetResults() {
			if r.GetName() == name {
				return r, nil
			}
		}
		if token = found.GetNextPageToken(); token == "" {
			return nil, apierr.NotFound(name)
		}
	}
}

// confirmOutside keys a figure a second time, from the paper.
func (s *site) confirmOutside(v *visit) (view, error) {
	r, err := s.readOutside(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "confirmoutside", "Second keying", map[string]any{"Result": r}, func() (string, error) {
		_, err := s.grading.ConfirmOutsideResult(v.ctx, &gradingv1.ConfirmOutsideResultRequest{RequestId: f.RequestID, Name: r.GetName(), Value: number(f.Value("value"))})
		return "/outside?sample=" + idOf(r.GetSample()), err
	})
}

func (s *site) withdrawOutside(v *visit) (view, error) {
	r, err := s.readOutside(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "withdrawoutside", "Take a figure back", map[string]any{"Result": r}, func() (string, error) {
		_, err := s.grading.WithdrawOutsideResult(v.ctx, &gradingv1.WithdrawOutsideResultRequest{RequestId: f.RequestID, Name: r.GetName(), Reason: f.Value("reason")})
		return "/outside", err
	})
}

// importOutside reads a file in two steps: first it only says what is wrong with it, then the very same bytes, carried along
// in the page, are keyed.
func (s *site) importOutside(v *visit) (view, error) {
	f := v.form()
	d, status := map[string]any{"Form": f}, http.StatusOK
	if v.posted {
		content, checked, err := sentFile(v)
		if err == nil {
			err = s.tryOutside(v, f, d, content, !checked)
		}
		if err != nil && !f.refused(v, err) {
			return view{}, err
		}
		if f.Problem != "" {
			status = http.StatusUnprocessableEntity
		}
	}
	return view{page: "importoutside", title: "Results from a file", data: d, status: status}, nil
}

func (s *site) tryOutside(v *visit, f *form, d map[string]any, content []byte, dry bool) error {
	found, err := s.grading.ImportOutsideResults(v.ctx, &gradingv1.ImportOutsideResultsRequest{RequestId: f.RequestID, Content: content, DryRun: dry})
	if err != nil {
		return err
	}
	d["Found"], d["Done"] = found, !dry
	if dry && len(found.GetFaults()) == 0 {
		d["Content"] = carried(content)
	}
	return nil
}

// disposeSample decides what becomes of honey with a confirmed residue.
func (s *site) disposeSample(v *visit) (view, error) {
	f := v.form()
	code := v.PathValue("code")
	return s.plainTask(v, f, "dispose", "What becomes of it", map[string]any{"Code": code}, func() (string, error) {
		_, err := s.grading.DisposeSample(v.ctx, &gradingv1.DisposeSampleRequest{
			RequestId: f.RequestID, Sample: "samples/" + code, Reason: f.Value("reason"),
			Disposition: gradingv1.Disposition(gradingv1.Disposition_value["DISPOSITION_"+f.Value("disposition")]),
		})
		return "/outside?sample=" + code, err
	})
}
