package web

import (
	"strings"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of sample portions.
const (
	getCustody    = intakev1.IntakeService_GetSampleCustody_FullMethodName
	recordCustody = intakev1.IntakeService_RecordCustody_FullMethodName
	listPortions  = intakev1.IntakeService_ListPortionsDue_FullMethodName
)

var portionOptions = newOptions("A", "A, our laboratory", "B", "B, the member", "C", "C, the referee")

// custodyKinds are in the order they usually happen.
var custodyKinds = newOptions("SEALED", "sealed", "MOVED", "sent on", "RECEIVED", "received", "STORED", "put away", "OPENED", "opened", "DISCARDED", "thrown away")

// portionsOf finds a sample by the code on its jar.
func (s *site) portionsOf(v *visit) (view, error) {
	if code := strings.ToUpper(strings.TrimSpace(v.URL.Query().Get("code"))); code != "" {
		return view{goTo: "/samples/" + code}, nil
	}
	return view{page: "samples", title: "Sample portions", data: map[string]any{"Form": v.form()}}, nil
}

func (s *site) readCustody(v *visit) (*intakev1.SampleCustody, error) {
	return s.intake.GetSampleCustody(v.ctx, &intakev1.GetSampleCustodyRequest{Sample: "samples/" + strings.ToUpper(v.PathValue("code"))})
}

// custody is where the three jars of a sample are and were. It goes by the blind code alone: it knows no member and no barrel.
func (s *site) custody(v *visit) (view, error) {
	found, err := s.readCustody(v)
	if err != nil {
		return view{}, err
	}
	broken := 0
	for _, p := range found.GetPortions() {
		if p.GetBroken() {
			broken++
		}
	}
	return view{page: "custody", title: "Sample " + idOf(found.GetSample()), data: map[string]any{
		"Custody": found, "Broken": broken, "MayRecord": v.mayCall(recordCustody), "Own": v.onlyMember(),
	}}, nil
}

// newCustody says what happened to one jar. The place and the portion of the last entry are offered again.
func (s *site) newCustody(v *visit) (view, error) {
	found, err := s.readCustody(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	if len(found.GetPortions()) == 0 {
		f.set("kind", "SEALED")
	}
	return s.plainTask(v, f, "newcustody", "What happened to the jar", map[string]any{"Custody": found, "Portions": portionOptions, "Kinds": custodyKinds}, func() (string, error) {
		_, err := s.intake.RecordCustody(v.ctx, &intakev1.RecordCustodyRequest{
			RequestId: f.RequestID, Sample: found.GetSample(), Place: f.Value("place"), Seal: f.Value("seal"), ExpireDate: f.Value("expire_date"), Note: f.Value("note"),
			Portion: intakev1.Portion(intakev1.Portion_value["PORTION_"+f.Value("portion")]), Kind: intakev1.CustodyKind(intakev1.CustodyKind_value["CUSTODY_KIND_"+f.Value("kind")]),
		})
		return "/" + found.GetSample(), err
	})
}

// portionsDue are the jars whose time is over. Whether one may go, while an appeal is open, the office says.
func (s *site) portionsDue(v *visit) (view, error) {
	found, err := s.intake.ListPortionsDue(v.ctx, &intakev1.ListPortionsDueRequest{PageSize: 100, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "portions", title: "Jars to throw away", data: map[string]any{
		"Portions": found.GetPortions(), "Next": nextPage(v, found.GetNextPageToken()), "MayRecord": v.mayCall(recordCustody),
	}}, nil
}
