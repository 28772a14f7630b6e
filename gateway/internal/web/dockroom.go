package web

import (
	"strconv"
	"strings"

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

// dockPages are the rooms beside the platform.
func (s *site) dockPages() map[string]page {
	return map[string]page{
		"/reviews":              {needs: listReviews, show: s.reviews},
		"/reviews/{id}":         {needs: listReviews, show: s.review},
		"/reviews/{id}/resolve": {needs: resolveReview, show: s.resolveReview, form: true},
		"/barrels/{id}/reweigh": {needs: reweigh, show: s.reweigh, form: true},
		"/drums":                {needs: listDrums, show: s.drums},
		"/drums/new":            {needs: registerDrum, show: s.newDrum, form: true},
		"/drums/{tag}":          {needs: getDrum, show: s.drum},
		"/drums/{tag}/release":  {needs: releaseDrum, show: s.releaseDrum, form: true},
		"/drums/{tag}/retire":   {needs: retireDrum, show: s.retireDrum, form: true},
		"/variances":            {needs: listVariances, show: s.variances},
		"/numbers":              {needs: reportNumbers, show: s.numbers},
		"/weighers":             {needs: reportWeigher, show: s.weighers},
		"/typed":                {needs: listTyped, show: s.typedWeights},
		"/dock-terms":           {needs: listClassTares, show: s.dockTerms},
		"/dock-terms/tare":      {needs: setClassTare, show: s.newClassTare, form: true},
		"/dock-terms/deposit":   {needs: setDeposit, show: s.newDeposit, form: true},

		"/tickets/{id}/paper":                 {needs: weighBarrel, show: s.paperWeight, form: true},
		"/barrels/{id}/confirm":               {needs: confirmPaper, show: s.confirmPaperWeight, form: true},
		"/tickets/{id}/declare":               {needs: declareHarvest, show: s.declareHarvest, form: true},
		"/tickets/{id}/reject":                {needs: rejectBarrel, show: s.rejectABarrel, form: true},
		"/tickets/{id}/rejects/{reject}/left": {needs: recordExit, show: s.rejectLeft, form: true},
		"/portions":                           {needs: listPortions, show: s.portionsDue},
		"/samples":                            {needs: getCustody, show: s.portionsOf},
		"/samples/{code}":                     {needs: getCustody, show: s.custody},
		"/samples/{code}/record":              {needs: recordCustody, show: s.newCustody, form: true},
		"/containers":                         {needs: containerAccount, show: s.ownContainers},
		"/members/{number}/containers":        {needs: containerAccount, show: s.containers},
		"/members/{number}/containers/move":   {needs: moveContainers, show: s.moveContainer, form: true},
	}
}

func (s *site) reviews(v *visit) (view, error) {
	found, err := s.intake.ListScaleReviews(v.ctx, &intakev1.ListScaleReviewsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	open := 0
	for _, r := range found.GetScaleReviews() {
		if r.GetResolver() == "" {
			open++
		}
	}
	return view{page: "reviews", title: "Scale reviews", data: map[string]any{
		"Reviews": found.GetScaleReviews(), "Open": open, "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// findReview looks through the pages: reviews are few, a scale fails seldom.
func (s *site) findReview(v *visit) (*intakev1.ScaleReview, error) {
	for token := ""; ; {
		found, err := s.intake.ListScaleReviews(v.ctx, &intakev1.ListScaleReviewsRequest{PageSize: 1000, PageToken: token})
		if err != nil {
			return nil, err
		}
		for _, r := range found.GetScaleReviews() {
			if idOf(r.GetName()) == v.PathValue("id") {
				return r, nil
			}
		}
		if token = found.GetNextPageToken(); token == "" {
			return nil, errNoPage
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

func (s *site) doubtfuls(v *visit, r *intakev1.ScaleReview) ([]doubtful, error) {
	if !v.mayCall(getBarrel) {
		return nil, nil
	}
	names := r.GetReweighBarrels()
	var barrels []doubtful
	for _, name := range names[:min(len(names), mostDoubtful)] {
		barrel, err := s.intake.GetBarrel(v.ctx, &intakev1.GetBarrelRequest{Name: name})
		if err != nil {
			return nil, err
		}
		d := doubtful{Barrel: barrel}
		if v.mayCall(listReweighs) {
			done, err := s.intake.ListReweighs(v.ctx, &intakev1.ListReweighsRequest{Barrel: name})
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

func (s *site) review(v *visit) (view, error) {
	r, err := s.findReview(v)
	if err != nil {
		return view{}, err
	}
	barrels, err := s.doubtfuls(v, r)
	if err != nil {
		return view{}, err
	}
	left := len(r.GetReweighBarrels())
	for _, b := range barrels {
		if b.Again != nil {
			left--
		}
	}
	open := r.GetResolver() == ""
	return view{page: "review", title: "Scale review", data: map[string]any{
		"Review": r, "Barrels": barrels, "Left": left, "More": max(len(r.GetReweighBarrels())-len(barrels), 0),
		"MayReweigh": open && v.mayCall(reweigh), "MayResolve": open && v.mayCall(resolveReview), "MayOpen": v.mayCall(getTicket),
	}}, nil
}

// resolveReview closes a review; barrels weighed again are decided by their rule, the others by what the office writes.
func (s *site) resolveReview(v *visit) (view, error) {
	r, err := s.findReview(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	return s.plainTask(v, f, "resolvereview", "Decide the review", map[string]any{"Review": r}, func() (string, error) {
		_, err := s.intake.ResolveScaleReview(v.ctx, &intakev1.ResolveScaleReviewRequest{RequestId: f.RequestID, Name: r.GetName(), RestNote: f.Value("rest_note")})
		return "/reviews/" + idOf(r.GetName()), err
	})
}

// reweigh puts a barrel on the scale again, which gives the weight itself where it can.
func (s *site) reweigh(v *visit) (view, error) {
	barrel, err := s.intake.GetBarrel(v.ctx, &intakev1.GetBarrelRequest{Name: "barrels/" + v.PathValue("id")})
	if err != nil {
		return view{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return view{}, err
	}
	f := v.form()
	s.offerLast(f, &intakev1.Ticket{}, scales)
	if v.posted {
		made, err := s.sendReweigh(v, f, barrel.GetName())
		if err == nil {
			return view{page: "reweighed", title: "Barrel " + barrel.GetDrumTag(), status: 200, data: map[string]any{"Again": made, "Barrel": barrel}}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	shown, err := s.shownWeight(v, f, nil)
	if err != nil {
		return view{}, err
	}
	return view{page: "reweigh", title: "Weigh " + barrel.GetDrumTag() + " again", data: map[string]any{
		"Form": f, "Barrel": barrel, "Scales": scaleOptions(scales, f.Value("scale")), "Scale": f.Value("scale"), "Shown": shown, "Unit": words(s.Cooperative.Unit),
	}}, nil
}

func (s *site) sendReweigh(v *visit, f *form, barrel string) (*intakev1.Reweigh, error) {
	req := &intakev1.ReweighBarrelRequest{RequestId: f.RequestID, Barrel: barrel, Scale: f.Value("scale"), SealIntact: f.Value("seal_intact") != ""}
	if f.Value("from") != "scale" {
		req.Gross, req.RawIndication, req.Manual, req.Reason = s.typedMass(f.Value("gross")), f.Value("gross"), true, typedByHand
		return s.intake.ReweighBarrel(v.ctx, req)
	}
	if !s.captured(v, f) {
		if err := s.capture(v, f); err != nil {
			return nil, err
		}
	}
	req.Indication = f.Value("indication")
	made, err := s.intake.ReweighBarrel(v.ctx, req)
	if spent(v, err) {
		f.values["captured"] = ""
	}
	return made, err
}

func (s *site) variances(v *visit) (view, error) {
	found, err := s.intake.ListTareVariances(v.ctx, &intakev1.ListTareVariancesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "variances", title: "Tare variances", data: map[string]any{
		"Variances": found.GetTareVariances(), "MayOpen": v.mayCall(getTicket), "Next": nextPage(v, found.GetNextPageToken()),
	}}, nil
}

// numbers accounts for every ticket number of a year.
func (s *site) numbers(v *visit) (view, error) {
	year := s.Clock.Now().In(s.zone).Year()
	if asked, err := strconv.ParseInt(v.URL.Query().Get("year"), 10, 32); err == nil {
		year = int(asked)
	}
	report, err := s.intake.ReportTicketNumbers(v.ctx, &intakev1.ReportTicketNumbersRequest{Year: int32(year)})
	if err != nil {
		return view{}, err
	}
	return view{page: "numbers", title: "Ticket numbers", data: map[string]any{
		"Report": report, "Before": year - 1, "After": year + 1, "MayOpen": v.mayCall(getTicket),
	}}, nil
}

// weighers counts who typed weights instead of taking them from the scale.
func (s *site) weighers(v *visit) (view, error) {
	f := v.form()
	s.lastMonth(f)
	report, err := s.intake.ReportWeighers(v.ctx, &intakev1.ReportWeighersRequest{
		FromDate: strings.TrimSpace(f.Value("from")), ToDate: strings.TrimSpace(f.Value("to")),
	})
	if err != nil && !f.refused(v, err) {
		return view{}, err
	}
	return view{page: "weighers", title: "Who weighed", data: map[string]any{"Form": f, "Lines": report.GetLines()}}, nil
}
