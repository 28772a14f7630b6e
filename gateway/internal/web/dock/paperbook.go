package dock

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/gateway/internal/web/site"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
)

// The RPCs behind the pages of weights that were written in the paper book while the power was out.
const (
	confirmPaper = intakev1.IntakeService_ConfirmPaperWeight_FullMethodName
	listTyped    = intakev1.IntakeService_ListTypedWeights_FullMethodName

	declareHarvest = intakev1.IntakeService_DeclareHarvest_FullMethodName
)

// paperReason is why such a weight was typed; the page says it, so that the clerk need not.
const paperReason = "from the paper book"

// paperWeight enters one line of the paper book. A second person compares it before the ticket closes.
func (s room) paperWeight(v *site.Visit) (site.View, error) {
	t, err := s.readTicket(v)
	if err != nil {
		return site.View{}, err
	}
	scales, err := s.scaleViews(v)
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	s.offerLast(f, t, scales)
	return s.PlainTask(v, f, "paperweight", "From the paper book", map[string]any{
		"Ticket": s.ticketData(v, t), "Scales": scaleOptions(scales, f.Value("scale")), "Varieties": varietyOptions(f), "TareKinds": tareKinds,
	}, func() (string, error) {
		weighed, err := s.typedHour(f)
		if err != nil {
			return "", err
		}
		req := s.barrelOf(f, "tickets/"+v.PathValue("id"))
		s.typedGross(f, req)
		req.WeighTime, req.PaperNumber, req.Reason = weighed, f.Value("paper_number"), paperReason
		if f.Value("reason") != "" {
			req.Reason += ": " + f.Value("reason")
		}
		made, err := s.Intake.WeighBarrel(v.Ctx, req)
		return "/barrels/" + site.IDOf(made.GetName()) + "/sample", err
	})
}

// typedHour reads an hour of today by the cooperative's own clock: the book may be entered on the same day only.
func (s room) typedHour(f *site.Form) (*timestamppb.Timestamp, error) {
	t, err := time.ParseInLocation("2006-01-02 15:04", clock.Today(s.Clock, s.Zone)+" "+f.Value("hour"), s.Zone)
	if err != nil {
		return nil, apierr.Field("hour", "must be a time of day as it stands in the book, such as 14:05")
	}
	return timestamppb.New(t), nil
}

// confirmPaperWeight is for the second person, with the book open at the line.
func (s room) confirmPaperWeight(v *site.Visit) (site.View, error) {
	barrel, err := s.Intake.GetBarrel(v.Ctx, &intakev1.GetBarrelRequest{Name: "barrels/" + v.PathValue("id")})
	if err != nil {
		return site.View{}, err
	}
	f := v.Form()
	return s.PlainTask(v, f, "confirmpaper", "Compare with the paper book", map[string]any{"Barrel": barrel}, func() (string, error) {
		done, err := s.Intake.ConfirmPaperWeight(v.Ctx, &intakev1.ConfirmPaperWeightRequest{RequestId: f.RequestID, Barrel: barrel.GetName()})
		return "/tickets/" + site.IDOf(done.GetTicket()), err
	})
}

// typedWeights lists every weight that was not taken from the scale, for whoever has to look into them.
func (s room) typedWeights(v *site.Visit) (site.View, error) {
	f := v.Form()
	s.lastMonth(f)
	found, err := s.Intake.ListTypedWeights(v.Ctx, &intakev1.ListTypedWeightsRequest{
		FromDate: f.Value("from"), ToDate: f.Value("to"), PageSize: 100, PageToken: v.URL.Query().Get("page"),
	})
	if err != nil && !f.Refused(v, err) {
		return site.View{}, err
	}
	open := 0
	for _, b := range found.GetBarrels() {
		if b.GetPaperNumber() != "" && b.GetPaperConfirmer() == "" {
			open++
		}
	}
	return site.View{Page: "typed", Title: "Weights typed by hand", Data: map[string]any{
		"Form": f, "Barrels": found.GetBarrels(), "Unconfirmed": open, "Next": site.NextPage(v, found.GetNextPageToken()), "MayOpen": v.MayCall(getTicket),
	}}, nil
}

// lastMonth offers the month up to today as the span of a report.
func (s room) lastMonth(f *site.Form) {
	today := clock.Today(s.Clock, s.Zone)
	if last, err := time.Parse(time.DateOnly, today); err == nil {
		f.Set("from", last.AddDate(0, -1, 0).Format(time.DateOnly))
	}
	f.Set("to", today)
}

// declareHarvest records a declaration that was handed in after the ticket was opened.
func (s room) declareHarvest(v *site.Visit) (site.View, error) {
	return s.ticketForm(v, "declare", "Harvest declaration", func(f *site.Form) (*intakev1.Ticket, error) {
		return s.Intake.DeclareHarvest(v.Ctx, &intakev1.DeclareHarvestRequest{RequestId: f.RequestID, Name: "tickets/" + v.PathValue("id"), Note: f.Value("note")})
	})
}
