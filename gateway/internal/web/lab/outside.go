package lab

import (
	"net/http"
	"regexp"
	"slices"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
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
func (s room) outsidePages() map[string]site.Page {
	return map[string]site.Page{
		"/composites":            {Needs: listComposites, Show: s.composites},
		"/composites/new":        {Needs: createComposite, Show: s.newComposite, Form: true},
		"/composites/{code}":     {Needs: getComposite, Show: s.composite},
		"/outside":               {Needs: listOutside, Show: s.outside},
		"/outside/new":           {Needs: keyOutside, Show: s.keyOutside, Form: true},
		"/outside/import":        {Needs: importOutside, Show: s.importOutside, Form: true},
		"/outside/{id}/confirm":  {Needs: confirmOutside, Show: s.confirmOutside, Form: true},
		"/outside/{id}/withdraw": {Needs: withdrawOutside, Show: s.withdrawOutside, Form: true},
		"/bench/{code}/dispose":  {Needs: disposeSample, Show: s.disposeSample, Form: true},
	}
}

func (s room) composites(v *site.Visit) (site.View, error) {
	found, err := s.Grading.ListComposites(v.Ctx, &gradingv1.ListCompositesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	exploded := 0
	for _, c := range found.GetComposites() {
		if open, _, _ := fates(c); open > 0 {
			exploded++
		}
	}
	return site.View{Page: "composites", Title: "Composites", Data: map[string]any{
		"Composites": found.GetComposites(), "Exploded": exploded, "MayMix": v.MayCall(createComposite), "Next": site.NextPage(v, found.GetNextPageToken()),
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

func (s room) newComposite(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("grams_each", "25")
	return s.PlainTask(v, f, "newcomposite", "Mix a composite", map[string]any{}, func() (string, error) {
		made, err := s.Grading.CreateComposite(v.Ctx, &gradingv1.CreateCompositeRequest{
			RequestId: f.RequestID, Samples: typedSamples(f.Value("samples")), GramsEach: site.Number(f.Value("grams_each")),
		})
		return "/composites/" + site.IDOf(made.GetName()), err
	})
}

func (s room) composite(v *site.Visit) (site.View, error) {
	c, err := s.Grading.GetComposite(v.Ctx, &gradingv1.GetCompositeRequest{Name: "composites/" + v.PathValue("code")})
	if err != nil {
		return site.View{}, err
	}
	open, cleared, confirmed := fates(c)
	return site.View{Page: "composite", Title: "Composite " + site.IDOf(c.GetName()), Data: map[string]any{
		"Composite": c, "Open": open, "Cleared": cleared, "Confirmed": confirmed, "MayKey": v.MayCall(keyOutside), "MayDispose": v.MayCall(disposeSample),
	}}, nil
}

// outside lists results; those that wait for a second person come first.
func (s room) outside(v *site.Visit) (site.View, error) {
	query := v.URL.Query()
	req := &gradingv1.ListOutsideResultsRequest{PageSize: 100, PageToken: query.Get("page")}
	if code := strings.ToUpper(strings.TrimSpace(query.Get("sample"))); code != "" {
		req.Sample = "samples/" + code
	}
	found, err := s.Grading.ListOutsideResults(v.Ctx, req)
	if err != nil {
		return site.View{}, err
	}
	results := found.GetResults()
	keyed := func(r *gradingv1.OutsideResult) bool {
		return r.GetState() == gradingv1.OutsideState_OUTSIDE_STATE_KEYED
	}
	waiting := slices.DeleteFunc(slices.Clone(results), func(r *gradingv1.OutsideResult) bool { return !keyed(r) })
	return site.View{Page: "outside", Title: "Outside results", Data: map[string]any{
		"Waiting": waiting, "Done": slices.DeleteFunc(slices.Clone(results), keyed), "Next": site.NextPage(v, found.GetNextPageToken()),
		"MayKey": v.MayCall(keyOutside), "Me": "users/" + v.Who.Name,
	}}, nil
}

// analyteOptions are what outside laboratories look for, with the unit they report in.
func (s room) analyteOptions(v *site.Visit) ([]site.Option, error) {
	found, err := s.Grading.ListAnalytes(v.Ctx, &gradingv1.ListAnalytesRequest{})
	if err != nil {
		return nil, err
	}
	var options []site.Option
	for _, a := range found.GetAnalytes() {
		options = append(options, site.Option{Value: a.GetId(), Label: strings.TrimSuffix(site.Sentence(a.GetWords()), ".") + ", " + a.GetUnit()})
	}
	return options, nil
}

// keyOutside keys one figure of a report and comes back for the next of the same report.
func (s room) keyOutside(v *site.Visit) (site.View, error) {
	analytes, err := s.analyteOptions(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "keyoutside", "Key a result", map[string]any{"Analytes": analytes}, func() (string, error) {
		_, err := s.Grading.KeyOutsideResult(v.Ctx, &gradingv1.KeyOutsideResultRequest{
			RequestId: f.RequestID, Sample: "samples/" + strings.ToUpper(f.Value("sample")), Analyte: f.Value("analyte"),
			Value: site.Number(f.Value("value")), Laboratory: f.Value("laboratory"), Report: f.Value("report"),
		})
		return "/outside", err
	})
}

// readOutside finds a result by its id. The value of one that waits is hidden from the second person.
func (s room) readOutside(v *site.Visit) (*gradingv1.OutsideResult, error) {
	name, token := "outsideResults/"+v.PathValue("id"), ""
	for {
		found, err := s.Grading.ListOutsideResults(v.Ctx, &gradingv1.ListOutsideResultsRequest{PageSize: 1000, PageToken: token})
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
func (s room) confirmOutside(v *site.Visit) (site.View, error) {
	r, err := s.readOutside(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "confirmoutside", "Second keying", map[string]any{"Result": r}, func() (string, error) {
		_, err := s.Grading.ConfirmOutsideResult(v.Ctx, &gradingv1.ConfirmOutsideResultRequest{RequestId: f.RequestID, Name: r.GetName(), Value: site.Number(f.Value("value"))})
		return "/outside?sample=" + site.IDOf(r.GetSample()), err
	})
}

func (s room) withdrawOutside(v *site.Visit) (site.View, error) {
	r, err := s.readOutside(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "withdrawoutside", "Take a figure back", map[string]any{"Result": r}, func() (string, error) {
		_, err := s.Grading.WithdrawOutsideResult(v.Ctx, &gradingv1.WithdrawOutsideResultRequest{RequestId: f.RequestID, Name: r.GetName(), Reason: f.Value("reason")})
		return "/outside", err
	})
}

// importOutside reads a file in two steps: first it only says what is wrong with it, then the very same bytes, carried along
// in the page, are keyed.
func (s room) importOutside(v *site.Visit) (site.View, error) {
	f := v.Form()
	d, status := map[string]any{"Form": f}, http.StatusOK
	if v.Posted {
		content, checked, err := site.SentFile(v)
		if err == nil {
			err = s.tryOutside(v, f, d, content, !checked)
		}
		if err != nil && !f.Refused(v, err) {
			return site.View{}, err
		}
		if f.Problem != "" {
			status = http.StatusUnprocessableEntity
		}
	}
	return site.View{Page: "importoutside", Title: "Results from a file", Data: d, Status: status}, nil
}

func (s room) tryOutside(v *site.Visit, f *site.Form, d map[string]any, content []byte, dry bool) error {
	found, err := s.Grading.ImportOutsideResults(v.Ctx, &gradingv1.ImportOutsideResultsRequest{RequestId: f.RequestID, Content: content, DryRun: dry})
	if err != nil {
		return err
	}
	d["Found"], d["Done"] = found, !dry
	if dry && len(found.GetFaults()) == 0 {
		d["Content"] = site.Carried(content)
	}
	return nil
}

// disposeSample decides what becomes of honey with a confirmed residue.
func (s room) disposeSample(v *site.Visit) (site.View, error) {
	f := v.Form()
	code := v.PathValue("code")
	return s.PlainTask(v, f, "dispose", "What becomes of it", map[string]any{"Code": code}, func() (string, error) {
		_, err := s.Grading.DisposeSample(v.Ctx, &gradingv1.DisposeSampleRequest{
			RequestId: f.RequestID, Sample: "samples/" + code, Reason: f.Value("reason"),
			Disposition: gradingv1.Disposition(gradingv1.Disposition_value["DISPOSITION_"+f.Value("disposition")]),
		})
		return "/outside?sample=" + code, err
	})
}
