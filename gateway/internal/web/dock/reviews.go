package dock

import (
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// The RPCs behind the pages of what a dock has to look at again, and of what it shows an auditor.
const (
	listReviews   = intakev1.IntakeService_ListScaleReviews_FullMethodName
	resolveReview = intakev1.IntakeService_ResolveScaleReview_FullMethodName
	getBarrel     = intakev1.IntakeService_GetBarrel_FullMethodName
	reweigh       = intakev1.IntakeService_ReweighBarrel_FullMethodName
	listReweighs  = intakev1.IntakeService_ListReweighs_FullMethodName
	listVariances = intakev1.IntakeService_ListTareVariances_FullMethodName
	reportNumbers = intakev1.IntakeService_ReportTicketNumbers_FullMethodName
	reportWeigher = intakev1.IntakeService_ReportWeighers_FullMethodName
)

func (s room) reviews(v *site.Visit) (site.View, error) {
	found, err := s.Intake.ListScaleReviews(v.Ctx, &intakev1.ListScaleReviewsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	open := 0
	for _, r := range found.GetScaleReviews() {
		if r.GetResolver() == "" {
			open++
		}
	}
	return site.View{Page: "reviews", Title: "Scale reviews", Data: map[string]any{
		"Reviews": found.GetScaleReviews(), "Open": open, "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

// findReview looks through the pages: reviews are few, a scale fails seldom.
func (s room) findReview(v *site.Visit) (*intakev1.ScaleReview, error) {
	for token := ""; ; {
		found, err := s.Intake.ListScaleReviews(v.Ctx, &intakev1.ListScaleReviewsRequest{PageSize: 1000, PageToken: token})
		if err != nil {
			return nil, err
		}
		for _, r := range found.GetScaleReviews() {
			if site.IDOf(r.GetName()) == v.PathValue("id") {
				return r, nil
			}
		}
		if token = found.GetNextPageToken(); token == "" {
			return nil, site.ErrNoPage
		}
	}
}

// doubtful is a barrel to be weighed again, and the re-weigh that settled it.
type doubtful struct {
	*intakev1.Barrel
	Again *intakev1.Reweigh
}

// mostDoubtful barrels are named with their tags on one page; the others follow when these are done.
const mostDoubtful = 100

func (s room) doubtfuls(v *site.Visit, r *intakev1.ScaleReview) ([]doubtful, error) {
	if !v.MayCall(getBarrel) {
		return nil, nil
	}
	names := r.GetReweighBarrels()
	var barrels []doubtful
	for _, name := range names[:min(len(names), mostDoubtful)] {
		barrel, err := s.Intake.GetBarrel(v.Ctx, &intakev1.GetBarrelRequest{Name: name})
		if err != nil {
			return nil, err
		}
		d := doubtful{Barrel: barrel}
		if v.MayCall(listReweighs) {
			done, err := s.Intake.ListReweighs(v.Ctx, &intakev1.ListReweighsRequest{Barrel: name})
			if err != nil {
				return nil, err
			}
			for _, again := range done.GetReweighs() {
				if !again.GetDoubted() && again.GetWeighTime().AsTime().After(r.GetFailedCheck().GetCheckTime().AsTime()) {
					d.Again = again
				}
			}
		}
		barrels = append(barrels, d)
	}
	return barrels, nil
}

func (s room) review(v *site.Visit) (site.View, error) {
	r, err := s.findReview(v)
	if err != nil {
		return site.View{}, err
	}
	barrels, err := s.doubtfuls(v, r)
	if err != nil {
		return site.View{}, err
	}
	left := len(r.GetReweighBarrels())
	for _, b := range barrels {
		if b.Again != nil {
			left--
		}
	}
	open := r.GetResolver() == ""
	return site.View{Page: "review", Title: "Scale review", Data: map[string]any{
		"Review": r, "Barrels": barrels, "Left": left, "More": max(len(r.GetReweighBarrels())-len(barrels), 0),
		"MayReweigh": open && v.MayCall(reweigh), "MayResolve": open && v.MayCall(resolveReview), "MayOpen": v.MayCall(getTicket),
	}}, nil
}

// resolveReview closes a review; barrels weighed again are decided by their rule, the others by what the office writes.
func (s room) resolveReview(v *site.Visit) (site.View, error) {
	r, err := s.findReview(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "resolvereview", "Decide the review", map[string]any{"Review": r}, func() (string, error) {
		_, err := s.Intake.ResolveScaleReview(v.Ctx, &intakev1.ResolveScaleReviewRequest{RequestId: f.RequestID, Name: r.GetName(), RestNote: f.Value("rest_note")})
		return "/reviews/" + site.IDOf(r.GetName()), err
	})
}

// reweigh puts a barrel on the scale again, which gives the weight itself where it can.
func (s room) reweigh(v *site.Visit) (site.View, error) {
	barrel, err := s.Intake.GetBarrel(v.Ctx, &intakev1.GetBarrelRequest{Name: "barrels/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	s.offerLast(f, &intakev1.Ticket{}, scales)
	if v.Posted {
		made, err := s.sendReweigh(v, f, barrel.GetName())
		if err == nil {
			return site.View{Page: "reweighed", Title: "Barrel " + barrel.GetDrumTag(), Status: 200, Data: map[string]any{"Again": made, "Barrel": barrel}}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	shown, err := s.shownWeight(v, f, nil)
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "reweigh", Title: "Weigh " + barrel.GetDrumTag() + " again", Data: map[string]any{
		"Form": f, "Barrel": barrel, "Scales": scaleOptions(scales, f.Value("scale")), "Scale": f.Value("scale"), "Shown": shown, "Unit": wording.Words(s.Cooperative.Unit),
	}}, nil
}

func (s room) sendReweigh(v *site.Visit, f *site.Form, barrel string) (*intakev1.Reweigh, error) {
	req := &intakev1.ReweighBarrelRequest{RequestId: f.RequestID, Barrel: barrel, Scale: f.Value("scale"), SealIntact: f.Value("seal_intact") != ""}
	if f.Value("from") != "scale" {
		req.Gross, req.RawIndication, req.Manual, req.Reason = s.TypedMass(f.Value("gross")), f.Value("gross"), true, typedByHand
		return s.Intake.ReweighBarrel(v.Ctx, req)
	}
	if !s.captured(v, f) {
		if err := s.capture(v, f); err != nil {
			return nil, err
		}
	}
	req.Indication = f.Value("indication")
	made, err := s.Intake.ReweighBarrel(v.Ctx, req)
	if spent(v, err) {
		f.Put("captured", "")
	}
	return made, err
}

func (s room) variances(v *site.Visit) (site.View, error) {
	found, err := s.Intake.ListTareVariances(v.Ctx, &intakev1.ListTareVariancesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "variances", Title: "Tare variances", Data: map[string]any{
		"Variances": found.GetTareVariances(), "MayOpen": v.MayCall(getTicket), "Next": site.NextPage(v, found.GetNextPageToken()),
	}}, nil
}

// numbers accounts for every ticket number of a year.
func (s room) numbers(v *site.Visit) (site.View, error) {
	year := s.Clock.Now().In(s.Zone).Year()
	if asked, err := strconv.ParseInt(v.URL.Query().Get("year"), 10, 32); err == nil {
		year = int(asked)
	}
	report, err := s.Intake.ReportTicketNumbers(v.Ctx, &intakev1.ReportTicketNumbersRequest{Year: int32(year)})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "numbers", Title: "Ticket numbers", Data: map[string]any{
		"Report": report, "Before": year - 1, "After": year + 1, "MayOpen": v.MayCall(getTicket),
	}}, nil
}

// weighers counts who typed weights instead of taking them from the scale.
func (s room) weighers(v *site.Visit) (site.View, error) {
	f := v.Form()
	s.lastMonth(f)
	report, err := s.Intake.ReportWeighers(v.Ctx, &intakev1.ReportWeighersRequest{
		FromDate: strings.TrimSpace(f.Value("from")), ToDate: strings.TrimSpace(f.Value("to")),
	})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	return site.View{Page: "weighers", Title: "Who weighed", Data: map[string]any{"Form": f, "Lines": report.GetLines()}}, nil
}
