package lab

import (
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// The RPCs behind the pages of second looks.
const (
	rereads         = gradingv1.GradingService_RecordRereads_FullMethodName
	createDuplicate = gradingv1.GradingService_CreateDuplicate_FullMethodName
	listDuplicates  = gradingv1.GradingService_ListDuplicates_FullMethodName
	openAppeal      = gradingv1.GradingService_OpenAppeal_FullMethodName
	getAppeal       = gradingv1.GradingService_GetAppeal_FullMethodName
	listAppeals     = gradingv1.GradingService_ListAppeals_FullMethodName
	measureAppeal   = gradingv1.GradingService_RecordAppealReading_FullMethodName
	decideAppeal    = gradingv1.GradingService_DecideAppeal_FullMethodName
)

// secondLookPages are where the laboratory doubts itself, and where a member may.
func (s room) secondLookPages() map[string]site.Page {
	return map[string]site.Page{
		"/bench/{code}/reread":      {Needs: rereads, Show: s.reread, Form: true},
		"/bench/{code}/duplicate":   {Needs: createDuplicate, Show: s.newDuplicate, Form: true},
		"/duplicates":               {Needs: listDuplicates, Show: s.duplicates},
		"/certificates/{id}/appeal": {Needs: openAppeal, Show: s.openAppeal, Form: true},
		"/appeals":                  {Needs: listAppeals, Show: s.appeals},
		"/appeals/{id}":             {Needs: getAppeal, Show: s.appeal},
		"/appeals/{id}/measure":     {Needs: measureAppeal, Show: s.measureAppeal, Form: true},
		"/appeals/{id}/decide":      {Needs: decideAppeal, Show: s.decideAppeal, Form: true},
	}
}

func typedKind(f *site.Form) gradingv1.ReadingKind {
	return gradingv1.ReadingKind(gradingv1.ReadingKind_value["READING_KIND_"+f.Value("kind")])
}

// kindsOf are the methods of a factor; all of them where it is not known.
func kindsOf(factor gradingv1.Factor) []site.Option {
	var kinds []site.Option
	for _, m := range methods {
		if factor == gradingv1.Factor_FACTOR_UNSPECIFIED || m.factor == factor {
			kinds = append(kinds, site.Option{Value: m.kind, Label: m.label})
		}
	}
	return kinds
}

// reread takes the two further readings of a value near a limit.
func (s room) reread(v *site.Visit) (site.View, error) {
	sample, err := s.readSample(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "reread", "Read again", map[string]any{"Sample": sample, "Kinds": kindsOf(0)}, func() (string, error) {
		made, err := s.Grading.RecordRereads(v.Ctx, &gradingv1.RecordRereadsRequest{
			RequestId: f.RequestID, Sample: sample.GetName(), Kind: typedKind(f), RawValues: []string{site.Number(f.Value("first")), site.Number(f.Value("second"))},
			TemperatureC: site.Number(f.Value("temperature_c")), Instrument: f.Value("instrument"),
		})
		return "/bench/" + site.IDOf(sample.GetName()) + "?saved=" + site.IDOf(made.GetName()), err
	})
}

func (s room) newDuplicate(v *site.Visit) (site.View, error) {
	sample, err := s.readSample(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	if v.Posted {
		made, err := s.Grading.CreateDuplicate(v.Ctx, &gradingv1.CreateDuplicateRequest{RequestId: f.RequestID, Original: sample.GetName()})
		if err == nil {
			return site.View{Page: "duplicated", Title: "Second jar", Status: 200, Data: made}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "newduplicate", Title: "Second jar of " + sample.GetCode(), Data: map[string]any{"Form": f, "Sample": sample}}, nil
}

func (s room) duplicates(v *site.Visit) (site.View, error) {
	found, err := s.Grading.ListDuplicates(v.Ctx, &gradingv1.ListDuplicatesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	apart := 0
	for _, d := range found.GetDuplicates() {
		for _, difference := range d.GetDifferences() {
			if !difference.GetAgrees() {
				apart++
				break
			}
		}
	}
	return site.View{Page: "duplicates", Title: "Duplicates", Data: map[string]any{
		"Duplicates": found.GetDuplicates(), "Apart": apart, "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

// openAppeal asks for a second look on a member's behalf.
func (s room) openAppeal(v *site.Visit) (site.View, error) {
	c, err := s.Grading.GetCertificate(v.Ctx, &gradingv1.GetCertificateRequest{Name: "certificates/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	var factors []site.Option
	for _, r := range c.GetReadings() {
		name := strings.TrimPrefix(r.GetFactor().String(), "FACTOR_")
		factors = append(factors, site.Option{Value: name, Label: wording.Words(name) + ", " + r.GetReportedValue()})
	}
	f := v.Form()
	f.Set("stage", "RETEST")
	return s.PlainTask(v, f, "openappeal", "Appeal", map[string]any{"Certificate": c, "Factors": factors}, func() (string, error) {
		made, err := s.Grading.OpenAppeal(v.Ctx, &gradingv1.OpenAppealRequest{
			RequestId: f.RequestID, Certificate: c.GetName(), Reason: f.Value("reason"),
			Factor: gradingv1.Factor(gradingv1.Factor_value["FACTOR_"+f.Value("factor")]),
			Stage:  gradingv1.AppealStage(gradingv1.AppealStage_value["APPEAL_STAGE_"+f.Value("stage")]),
		})
		return "/appeals/" + site.IDOf(made.GetName()), err
	})
}

func (s room) appeals(v *site.Visit) (site.View, error) {
	found, err := s.Grading.ListAppeals(v.Ctx, &gradingv1.ListAppealsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	open := 0
	for _, a := range found.GetAppeals() {
		if a.GetState() != gradingv1.AppealState_APPEAL_STATE_DECIDED {
			open++
		}
	}
	return site.View{Page: "appeals", Title: "Appeals", Data: map[string]any{
		"Appeals": found.GetAppeals(), "Open": open, "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s room) readAppeal(v *site.Visit) (*gradingv1.Appeal, error) {
	return s.Grading.GetAppeal(v.Ctx, &gradingv1.GetAppealRequest{Name: "appeals/" + v.PathValue("id")})
}

func (s room) appeal(v *site.Visit) (site.View, error) {
	a, err := s.readAppeal(v)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "appeal", Title: "Appeal", Data: map[string]any{
		"Appeal": a, "MayMeasure": a.GetState() == gradingv1.AppealState_APPEAL_STATE_OPEN && v.MayCall(measureAppeal),
		"MayDecide": a.GetState() == gradingv1.AppealState_APPEAL_STATE_MEASURED && v.MayCall(decideAppeal), "MayOpen": v.MayCall(getCertificate),
	}}, nil
}

// measureAppeal enters the second look: the bench's own, or the report of an outside laboratory.
func (s room) measureAppeal(v *site.Visit) (site.View, error) {
	a, err := s.readAppeal(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	kinds := kindsOf(a.GetFactor())
	if len(kinds) > 0 {
		f.Set("kind", kinds[0].Value)
	}
	data := map[string]any{"Appeal": a, "Kinds": kinds, "Referee": a.GetStage() == gradingv1.AppealStage_APPEAL_STAGE_REFEREE}
	return s.PlainTask(v, f, "measureappeal", "Measure again", data, func() (string, error) {
		_, err := s.Grading.RecordAppealReading(v.Ctx, &gradingv1.RecordAppealReadingRequest{
			RequestId: f.RequestID, Appeal: a.GetName(), Kind: typedKind(f), RawValue: site.Number(f.Value("raw_value")),
			TemperatureC: site.Number(f.Value("temperature_c")), Instrument: f.Value("instrument"), Laboratory: f.Value("laboratory"),
		})
		return "/appeals/" + site.IDOf(a.GetName()), err
	})
}

func (s room) decideAppeal(v *site.Visit) (site.View, error) {
	a, err := s.readAppeal(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "decideappeal", "Decide the appeal", map[string]any{"Appeal": a}, func() (string, error) {
		_, err := s.Grading.DecideAppeal(v.Ctx, &gradingv1.DecideAppealRequest{RequestId: f.RequestID, Appeal: a.GetName()})
		return "/appeals/" + site.IDOf(a.GetName()), err
	})
}
