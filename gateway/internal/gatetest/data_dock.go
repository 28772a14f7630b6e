package gatetest

import (
	"context"
	"time"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// Names of the invented season that tests ask for.
const (
	ReviewID        = "5ca1e000-0000-4000-8000-000000000001"
	OpenAppealID    = "a99ea100-0000-4000-8000-000000000001"
	MeasuredAppeal  = "a99ea100-0000-4000-8000-000000000002"
	DecidedAppealID = "a99ea100-0000-4000-8000-000000000003"
	SecondJarCode   = "K4MTRX2W7"
	DoubtfulBarrel  = "5d7e3a10-0000-4000-8000-000000000011"
)

func reviews() []*intakev1.ScaleReview {
	failed := &intakev1.ScaleCheck{
		Name: "scales/2/checks/2", ZeroIndication: lb("0.0"), Checker: "users/dock1", CheckTime: at(18 * time.Hour), CheckDate: "2026-09-13",
		Finding: "worst load 600.0 lb: off by 3.5 lb, allowed 2.0 lb",
	}
	barrels := []string{"barrels/" + DoubtfulBarrel, "barrels/5d7e3a10-0000-4000-8000-000000000012", "barrels/5d7e3a10-0000-4000-8000-000000000013"}
	decided := &intakev1.ScaleReview{
		Name: "scaleReviews/5ca1e000-0000-4000-8000-000000000002", Scale: "scales/1", FailedCheck: failed, SinceTime: at(900 * time.Hour), Tickets: []string{"tickets/" + CloseTicketID},
		Barrels: barrels[:1], Resolver: "users/office1", ResolveTime: at(800 * time.Hour),
		Findings: []*intakev1.BarrelFinding{{Barrel: barrels[0], Outcome: intakev1.FindingOutcome_FINDING_OUTCOME_ACCEPTED, Net: lb("640.0"), NetCorrection: lb("0.0"), Note: "shipped on 12 September"}},
	}
	return []*intakev1.ScaleReview{{
		Name: "scaleReviews/" + ReviewID, Scale: "scales/2", FailedCheck: failed, SinceTime: at(25 * time.Hour),
		Tickets: []string{"tickets/" + CloseTicketID}, Barrels: barrels, ReweighBarrels: barrels[:2],
	}, decided}
}

func reweighed() *intakev1.Reweigh {
	return &intakev1.Reweigh{
		Name: "barrels/5d7e3a10-0000-4000-8000-000000000012/reweighs/1", Barrel: "barrels/5d7e3a10-0000-4000-8000-000000000012", Gross: lb("681.5"), PreviousGross: lb("685.0"),
		Difference: lb("-3.5"), Tolerance: lb("1.0"), Counts: true, Net: lb("640.0"), NetCorrection: lb("-3.5"), Scale: "scales/1", Weigher: "users/dock1", WeighTime: at(time.Minute),
	}
}

func drums() []*intakev1.Drum {
	return []*intakev1.Drum{
		{Name: "drums/FC-04417", OpenBarrel: "barrels/" + StockID, LastTare: lb("42.0"), LastTareTime: at(200 * 24 * time.Hour), Container: intakev1.Container_CONTAINER_STEEL_CLOSED_HEAD, Ownership: intakev1.DrumOwnership_DRUM_OWNERSHIP_COOPERATIVE, RegisterTime: at(900 * 24 * time.Hour)},
		{Name: "drums/FC-04490", LastTare: lb("47.0"), Container: intakev1.Container_CONTAINER_STEEL_OPEN_HEAD, Ownership: intakev1.DrumOwnership_DRUM_OWNERSHIP_MEMBER, Owner: Juniper, RegisterTime: at(30 * 24 * time.Hour)},
		{Name: "drums/FC-04491", Container: intakev1.Container_CONTAINER_STEEL_LINED, Ownership: intakev1.DrumOwnership_DRUM_OWNERSHIP_EXCHANGE, RegisterTime: at(1900 * 24 * time.Hour), RetireTime: at(time.Hour), RetireReason: "rust inside the lid"},
		{Name: "drums/JR-17"},
	}
}

func appeals() []*gradingv1.Appeal {
	open := func(id string) *gradingv1.Appeal {
		return &gradingv1.Appeal{
			Name: "appeals/" + id, Certificate: "certificates/" + CertificateID, Sample: "samples/" + MeasuredCode, Factor: gradingv1.Factor_FACTOR_MOISTURE,
			Stage: gradingv1.AppealStage_APPEAL_STAGE_RETEST, State: gradingv1.AppealState_APPEAL_STATE_OPEN, Reason: "own meter reads 18.4", Opener: "users/office1",
			OpenTime: at(20 * time.Hour), Fee: gradingv1.AppealFee_APPEAL_FEE_NONE,
		}
	}
	measured, decided := open(MeasuredAppeal), open(DecidedAppealID)
	measured.Stage, measured.State, measured.Fee = gradingv1.AppealStage_APPEAL_STAGE_REFEREE, gradingv1.AppealState_APPEAL_STATE_MEASURED, gradingv1.AppealFee_APPEAL_FEE_OPEN
	measured.MeasuredValue, measured.Analyst, measured.Laboratory = "18.5", "users/lab1", "Stonecrop Analytical, report 2219"
	decided.State, decided.MeasuredValue, decided.Analyst, decided.Decider, decided.DecideTime = gradingv1.AppealState_APPEAL_STATE_DECIDED, "19.1", "users/lab2", "users/lead1", at(time.Hour)
	decided.Explanation = "19.1 % against 19.2 % differs by 0.1; two readings of the same honey may differ by 0.3, so the original stands"
	return []*gradingv1.Appeal{open(OpenAppealID), measured, decided}
}

func (h *House) ListScaleReviews(ctx context.Context, r *intakev1.ListScaleReviewsRequest) (*intakev1.ListScaleReviewsResponse, error) {
	return &intakev1.ListScaleReviewsResponse{ScaleReviews: reviews()}, h.note(ctx, r)
}

func (h *House) ResolveScaleReview(ctx context.Context, r *intakev1.ResolveScaleReviewRequest) (*intakev1.ScaleReview, error) {
	return reviews()[1], h.note(ctx, r)
}

func (h *House) ReweighBarrel(ctx context.Context, r *intakev1.ReweighBarrelRequest) (*intakev1.Reweigh, error) {
	return reweighed(), h.note(ctx, r)
}

func (h *House) ListReweighs(ctx context.Context, r *intakev1.ListReweighsRequest) (*intakev1.ListReweighsResponse, error) {
	answer := &intakev1.ListReweighsResponse{}
	if r.GetBarrel() == reweighed().GetBarrel() {
		answer.Reweighs = append(answer.Reweighs, reweighed())
	}
	return answer, h.note(ctx, r)
}

func (h *House) ListTareVariances(ctx context.Context, r *intakev1.ListTareVariancesRequest) (*intakev1.ListTareVariancesResponse, error) {
	return &intakev1.ListTareVariancesResponse{TareVariances: []*intakev1.TareVariance{{
		Name: "tareVariances/" + DoubtfulBarrel, Barrel: "barrels/" + DoubtfulBarrel, Ticket: "tickets/" + CloseTicketID, Member: Juniper, DrumTag: "FC-04417",
		Tare: lb("38.0"), TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, EmptyWeight: lb("47.0"), NetCorrection: lb("-9.0"), Allowed: lb("2.0"), Finder: "users/warehouse1", FindTime: at(time.Hour),
	}}}, h.note(ctx, r)
}

func (h *House) ReportTicketNumbers(ctx context.Context, r *intakev1.ReportTicketNumbersRequest) (*intakev1.TicketNumberReport, error) {
	return &intakev1.TicketNumberReport{
		Site: "FC", Year: r.GetYear(), LastNumber: 732,
		StateCounts: []*intakev1.TicketStateCount{{State: intakev1.TicketState_TICKET_STATE_OPEN, Count: 1}, {State: intakev1.TicketState_TICKET_STATE_CLOSED, Count: 730}, {State: intakev1.TicketState_TICKET_STATE_CANCELLED, Count: 1}},
		Exceptions: []*intakev1.TicketNumberException{
			{Number: "FC-2026-000417", Ticket: "tickets/" + SedgeTicketID, State: intakev1.TicketState_TICKET_STATE_CANCELLED, Actor: "users/dock1", Reason: "truck turned back at the gate", Time: at(500 * time.Hour)},
			{Number: "FC-2026-000732", Ticket: "tickets/" + OpenTicketID, State: intakev1.TicketState_TICKET_STATE_OPEN, Actor: "users/dock1", Time: at(0)},
		},
	}, h.note(ctx, r)
}

func (h *House) ReportWeighers(ctx context.Context, r *intakev1.ReportWeighersRequest) (*intakev1.WeigherReport, error) {
	return &intakev1.WeigherReport{Lines: []*intakev1.WeigherLine{
		{Weigher: "users/dock1", Barrels: 412, Manual: 37, Overridden: 4, Captured: 370, Offline: 5}, {Weigher: "users/dock2", Barrels: 388, Manual: 2},
	}}, h.note(ctx, r)
}

func (h *House) ListDrums(ctx context.Context, r *intakev1.ListDrumsRequest) (*intakev1.ListDrumsResponse, error) {
	answer := &intakev1.ListDrumsResponse{}
	for _, d := range drums() {
		if r.GetOwner() == "" || r.GetOwner() == d.GetOwner() {
			answer.Drums = append(answer.Drums, d)
		}
	}
	return answer, h.note(ctx, r)
}

func (h *House) RegisterDrum(ctx context.Context, r *intakev1.RegisterDrumRequest) (*intakev1.Drum, error) {
	return drums()[1], h.note(ctx, r)
}

func (h *House) ReleaseDrum(ctx context.Context, r *intakev1.ReleaseDrumRequest) (*intakev1.Drum, error) {
	return drums()[1], h.note(ctx, r)
}

func (h *House) RetireDrum(ctx context.Context, r *intakev1.RetireDrumRequest) (*intakev1.Drum, error) {
	return drums()[2], h.note(ctx, r)
}

func (h *House) RecordRereads(ctx context.Context, r *gradingv1.RecordRereadsRequest) (*gradingv1.Reading, error) {
	return moistureReading(), h.note(ctx, r)
}

func (h *House) CreateDuplicate(ctx context.Context, r *gradingv1.CreateDuplicateRequest) (*gradingv1.Duplicate, error) {
	return &gradingv1.Duplicate{Sample: "samples/" + SecondJarCode, Original: r.GetOriginal(), Creator: "users/lead1", CreateTime: at(0)}, h.note(ctx, r)
}

func (h *House) ListDuplicates(ctx context.Context, r *gradingv1.ListDuplicatesRequest) (*gradingv1.ListDuplicatesResponse, error) {
	return &gradingv1.ListDuplicatesResponse{Duplicates: []*gradingv1.Duplicate{
		{Sample: "samples/" + SecondJarCode, Original: "samples/" + MeasuredCode, Creator: "users/lead1", CreateTime: at(time.Hour), Differences: []*gradingv1.JarDifference{
			{Factor: gradingv1.Factor_FACTOR_MOISTURE, OriginalValue: "19.2", DuplicateValue: "18.8", Most: "0.2", Explanation: "water differs by 0.4 %, more than 0.2 %: read both again"},
			{Factor: gradingv1.Factor_FACTOR_COLOR, OriginalValue: "30", DuplicateValue: "31", Most: "3", Agrees: true, Explanation: "colour differs by 1 mm, at most 3 mm"},
		}},
		{Sample: "samples/B7QDJ3NP8", Original: "samples/" + WaitingCode, Creator: "users/lead1", CreateTime: at(2 * time.Hour)},
	}}, h.note(ctx, r)
}

func (h *House) OpenAppeal(ctx context.Context, r *gradingv1.OpenAppealRequest) (*gradingv1.Appeal, error) {
	return appeals()[0], h.note(ctx, r)
}

func (h *House) GetAppeal(ctx context.Context, r *gradingv1.GetAppealRequest) (*gradingv1.Appeal, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, appeals(), r.GetName(), nil)
}

func (h *House) ListAppeals(ctx context.Context, r *gradingv1.ListAppealsRequest) (*gradingv1.ListAppealsResponse, error) {
	return &gradingv1.ListAppealsResponse{Appeals: appeals()}, h.note(ctx, r)
}

func (h *House) RecordAppealReading(ctx context.Context, r *gradingv1.RecordAppealReadingRequest) (*gradingv1.Appeal, error) {
	return appeals()[1], h.note(ctx, r)
}

func (h *House) DecideAppeal(ctx context.Context, r *gradingv1.DecideAppealRequest) (*gradingv1.Appeal, error) {
	return appeals()[2], h.note(ctx, r)
}
