package web

import (
	"strings"

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
func (s *site) secondLookPages() map[string]page {
	return map[string]page{
		"/bench/{code}/reread":      {needs: rereads, show: s.reread, form: true},
		"/bench/{code}/duplicate":   {needs: createDuplicate, show: s.newDuplicate, form: true},
		"/duplicates":               {needs: listDuplicates, show: s.duplicates},
		"/certificates/{id}/appeal": {needs: openAppeal, show: s.openAppeal, form: true},
		"/appeals":                  {needs: listAppeals, show: s.appeals},
		"/appeals/{id}":             {needs: getAppeal, show: s.appeal},
		"/appeals/{id}/measure":     {needs: measureAppeal, show: s.measureAppeal, form: true},
		"/appeals/{id}/decide":      {needs: decideAppeal, show: s.decideAppeal, form: true},
	}
}

func typedKind(f *form) gradingv1.ReadingKind {
	return gradingv1.ReadingKind(gradingv1.ReadingKind_value["READING_KIND_"+f.Value("kind")])
}

// number takes a comma for a point.
func number(typed string) string { return strings.ReplaceAll(typed, ",", ".") }

// kindsOf are the methods of a factor; all of them where it is not known.
func kindsOf(factor gradingv1.Factor) []option {
	var kinds []option
	for _, m := range methods {
		if factor == gradingv1.Factor_FACTOR_UNSPECIFIED || m.factor == factor {
			kinds = append(kinds, option{Value: m.kind, Label: m.label})
		}
	}
	return kinds
}

// reread takes the two further readings of a value near a limit.
func (s *site) reread(v *visit) (view, error) {
	sample, err := s.readSample(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "reread", "Read again", map[string]any{"Sample": sample, "Kinds": kindsOf(0)}, func() (string, error) {
		made, err := s.grading.RecordRereads(v.ctx, &gradingv1.RecordRereadsRequest{
			RequestId: f.RequestID, Sample: sample.GetName(), Kind: typedKind(f), RawValues: []string{number(f.Value("first")), number(f.Value("second"))},
			TemperatureC: number(f.Value("temperature_c")), Instrument: f.Value("instrument"),
		})
		return "/bench/" + idOf(sample.GetName()) + "?saved=" + idOf(made.GetName()), err
	})
}

func (s *site) newDuplicate(v *visit) (view, error) {
	sample, err := s.readSample(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	if v.posted {
		made, err := s.grading.CreateDuplicate(v.ctx, &gradingv1.CreateDuplicateRequest{RequestId: f.RequestID, Original: sample.GetName()})
		if err == nil {
			return view{page: "duplicated", title: "Second jar", status: 200, data: made}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "newduplicate", title: "Second jar of " + sample.GetCode(), data: map[string]any{"Form": f, "Sample": sample}}, nil
}

func (s *site) duplicates(v *visit) (view, error) {
	found, err := s.grading.ListDuplicates(v.ctx, &gradingv1.ListDuplicatesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
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
	return view{page: "duplicates", title: "Duplicates", data: map[string]any{
		"Duplicates": found.GetDuplicates(), "Apart": apart, "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// openAppeal asks for a second look on a member's behalf.
func (s *site) openAppeal(v *visit) (view, error) {
	c, err := s.grading.GetCertificate(v.ctx, &gradingv1.GetCertificateRequest{Name: "certificates/" + v.PathValue("id")})
	if err != nil {
		return view{}, err
	}
	var factors []option
	for _, r := range c.GetReadings() {
		name := strings.TrimPrefix(r.GetFactor().String(), "FACTOR_")
		factors = append(factors, option{Value: name, Label: words(name) + ", " + r.GetReportedValue()})
	}
	f := v.form()
	f.set("stage", "RETEST")
	return s.plainTask(v, f, "openappeal", "Appeal", map[string]any{"Certificate": c, "Factors": factors}, func() (string, error) {
		made, err := s.grading.OpenAppeal(v.ctx, &gradingv1.OpenAppealRequest{
			RequestId: f.RequestID, Certificate: c.GetName(), Reason: f.Value("reason"),
			Factor: gradingv1.Factor(gradingv1.Factor_value["FACTOR_"+f.Value("factor")]),
			Stage:  gradingv1.AppealStage(gradingv1.AppealStage_value["APPEAL_STAGE_"+f.Value("stage")]),
		})
		return "/appeals/" + idOf(made.GetName()), err
	})
}

func (s *site) appeals(v *visit) (view, error) {
	found, err := s.grading.ListAppeals(v.ctx, &gradingv1.ListAppealsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	open := 0
	for _, a := range found.GetAppeals() {
		if a.GetState() != gradingv1.AppealState_APPEAL_STATE_DECIDED {
			open++
		}
	}
	return view{page: "appeals", title: "Appeals", data: map[string]any{
		"Appeals": found.GetAppeals(), "Open": open, "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

func (s *site) readAppeal(v *visit) (*gradingv1.Appeal, error) {
	return s.grading.GetAppeal(v.ctx, &gradingv1.GetAppealRequest{Name: "appeals/" + v.PathValue("id")})
}

func (s *site) appeal(v *visit) (view, error) {
	a, err := s.readAppeal(v)
	if err != nil {
		return view{}, err
	}
	return view{page: "appeal", title: "Appeal", data: map[string]any{
		"Appeal": a, "MayMeasure": a.GetState() == gradingv1.AppealState_APPEAL_STATE_OPEN && v.mayCall(measureAppeal),
		"MayDecide": a.GetState() == gradingv1.AppealState_APPEAL_STATE_MEASURED && v.mayCall(decideAppeal), "MayOpen": v.mayCall(getCertificate),
	}}, nil
}

// measureAppeal enters the second look: the bench's own, or the report of an outside laboratory.
func (s *site) measureAppeal(v *visit) (view, error) {
	a, err := s.readAppeal(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	kinds := kindsOf(a.GetFactor())
	if len(kinds) > 0 {
		f.set("kind", kinds[0].Value)
	}
	data := map[string]any{"Appeal": a, "Kinds": kinds, "Referee": a.GetStage() == gradingv1.AppealStage_APPEAL_STAGE_REFEREE}
	return s.plainTask(v, f, "measureappeal", "Measure again", data, func() (string, error) {
		_, err := s.grading.RecordAppealReading(v.ctx, &gradingv1.RecordAppealReadingRequest{
			RequestId: f.RequestID, Appeal: a.GetName(), Kind: typedKind(f), RawValue: number(f.Value("raw_value")),
			TemperatureC: number(f.Value("temperature_c")), Instrument: f.Value("instrument"), Laboratory: f.Value("laboratory"),
		})
		return "/appeals/" + idOf(a.GetName()), err
	})
}

func (s *site) decideAppeal(v *visit) (view, error) {
	a, err := s.readAppeal(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "decideappeal", "Decide the appeal", map[string]any{"Appeal": a}, func() (string, error) {
		_, err := s.grading.DecideAppeal(v.ctx, &gradingv1.DecideAppealRequest{RequestId: f.RequestID, Appeal: a.GetName()})
		return "/appeals/" + idOf(a.GetName()), err
	})
}
