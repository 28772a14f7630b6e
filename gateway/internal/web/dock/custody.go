package dock

import (
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of sample portions.
const (
	getCustody    = intakev1.IntakeService_GetSampleCustody_FullMethodName
	recordCustody = intakev1.IntakeService_RecordCustody_FullMethodName
	listPortions  = intakev1.IntakeService_ListPortionsDue_FullMethodName
)

var portionOptions = site.NewOptions("A", "A, our laboratory", "B", "B, the member", "C", "C, the referee")

// custodyKinds are in the order they usually happen.
var custodyKinds = site.NewOptions("SEALED", "sealed", "MOVED", "sent on", "RECEIVED", "received", "STORED", "put away", "OPENED", "opened", "DISCARDED", "thrown away")

// portionsOf finds a sample by the code on its jar.
func (s room) portionsOf(v *site.Visit) (site.View, error) {
	if code := strings.ToUpper(strings.TrimSpace(v.URL.Query().Get("code"))); code != "" {
		return site.View{GoTo: "/samples/" + code}, nil
	}
	return site.View{Page: "samples", Title: "Sample portions", Data: map[string]any{"Form": v.Form()}}, nil
}

func (s room) readCustody(v *site.Visit) (*intakev1.SampleCustody, error) {
	return s.Intake.GetSampleCustody(v.Ctx, &intakev1.GetSampleCustodyRequest{Sample: "samples/" + strings.ToUpper(v.PathValue("code"))})
}

// custody is where the three jars of a sample are and were. It goes by the blind code alone: it knows no member and no barrel.
func (s room) custody(v *site.Visit) (site.View, error) {
	found, err := s.readCustody(v)
	if err != nil {
		return site.View{}, err
	}
	broken := 0
	for _, p := range found.GetPortions() {
		if p.GetBroken() {
			broken++
		}
	}
	return site.View{Page: "custody", Title: "Sample " + site.IDOf(found.GetSample()), Data: map[string]any{
		"Custody": found, "Broken": broken, "MayRecord": v.MayCall(recordCustody), "Own": v.OnlyMember(),
	}}, nil
}

// newCustody says what happened to one jar. The place and the portion of the last entry are offered again.
func (s room) newCustody(v *site.Visit) (site.View, error) {
	found, err := s.readCustody(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	if len(found.GetPortions()) == 0 {
		f.Set("kind", "SEALED")
	}
	return s.PlainTask(v, f, "newcustody", "What happened to the jar", map[string]any{"Custody": found, "Portions": portionOptions, "Kinds": custodyKinds}, func() (string, error) {
		_, err := s.Intake.RecordCustody(v.Ctx, &intakev1.RecordCustodyRequest{
			RequestId: f.RequestID, Sample: found.GetSample(), Place: f.Value("place"), Seal: f.Value("seal"), ExpireDate: f.Value("expire_date"), Note: f.Value("note"),
			Portion: intakev1.Portion(intakev1.Portion_value["PORTION_"+f.Value("portion")]), Kind: intakev1.CustodyKind(intakev1.CustodyKind_value["CUSTODY_KIND_"+f.Value("kind")]),
		})
		return "/" + found.GetSample(), err
	})
}

// portionsDue are the jars whose time is over. Whether one may go, while an appeal is open, the office says.
func (s room) portionsDue(v *site.Visit) (site.View, error) {
	found, err := s.Intake.ListPortionsDue(v.Ctx, &intakev1.ListPortionsDueRequest{PageSize: 100, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "portions", Title: "Jars to throw away", Data: map[string]any{
		"Portions": found.GetPortions(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayRecord": v.MayCall(recordCustody),
	}}, nil
}
