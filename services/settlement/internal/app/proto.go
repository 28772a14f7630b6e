package app

import (
	"time"

	"github.com/google/uuid"
	"google.golang.org/protobuf/types/known/timestamppb"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
	"barrelhead.example/services/settlement/internal/domain"
)

// stamp leaves out what has not happened.
func stamp(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}

// ScheduleToProto writes a schedule.
func ScheduleToProto(s *domain.Schedule, terms domain.Terms) *settlementv1.Schedule {
	out := &settlementv1.Schedule{
		Name: s.Name(), CropYear: int32(s.CropYear), Version: int32(s.Version), EffectiveDate: string(s.Effective), //nolint:gosec // a year and a count
		State:        settlementv1.ScheduleState_SCHEDULE_STATE_DRAFT,
		MoistureRule: &settlementv1.MoistureRule{BasePercent: s.Moisture.Base.String()},
		Drafter:      s.Drafter, DraftTime: stamp(s.DraftTime),
		Resolution: s.Resolution, Adopter: s.Adopter, AdoptTime: stamp(s.AdoptTime),
	}
	if s.Adopted() {
		out.State = settlementv1.ScheduleState_SCHEDULE_STATE_ADOPTED
	}
	if s.Moisture.Step != 0 {
		out.MoistureRule.StepPerTenth = wire.PriceToProto(s.Moisture.Step, terms.Currency, terms.Unit)
	}
	for _, r := range s.Rows {
		out.Rows = append(out.Rows, &settlementv1.PriceRow{
			Variety: r.Variety, ColorClass: r.ColorClass, Grade: r.Grade, Advance: wire.PriceToProto(r.Advance, terms.Currency, terms.Unit),
		})
	}
	for _, c := range s.Charges {
		out.Deductions = append(out.Deductions, chargeToProto(c, terms))
	}
	return out
}

func chargeToProto(c domain.Charge, terms domain.Terms) *settlementv1.DeductionRule {
	out := &settlementv1.DeductionRule{
		Code: c.Code, Description: c.Description, Authority: c.Authority, Retained: c.Retained, Basis: settlementv1.DeductionBasis(c.Basis), //nolint:gosec // one of three
	}
	if c.Basis == domain.BasisBarrel {
		out.Amount = wire.MoneyToProto(c.Amount, terms.Currency)
	} else {
		out.Rate = wire.PriceToProto(c.Rate, terms.Currency, terms.Unit)
	}
	return out
}

// PayoutToProto writes a payout with every line explained.
func PayoutToProto(p *domain.Payout, terms domain.Terms) *settlementv1.Payout {
	b := &p.Barrel
	out := &settlementv1.Payout{
		Name: p.Name(), Member: b.Member, Kind: settlementv1.PayoutKind(p.Kind), Barrel: "barrels/" + b.Barrel.String(), DrumTag: b.DrumTag, //nolint:gosec // one of few
		Ticket: "tickets/" + b.Ticket.String(), TicketNumber: b.TicketNumber, DeliveryDate: string(b.Date), CropYear: int32(b.CropYear), //nolint:gosec // a year
		Net: wire.MassToProto(b.Net, terms.Unit), Payable: wire.MassToProto(p.Payable, terms.Unit),
		GrossAmount: wire.MoneyToProto(p.Gross, terms.Currency), NetAmount: wire.MoneyToProto(p.Net, terms.Currency),
		PriceTime: stamp(p.Time), Reason: p.Reason, Headline: p.Headline,
	}
	if p.Kind == domain.Reversal {
		out.Reverses = "payouts/" + p.Reverses.String()
	}
	if p.Run != (uuid.UUID{}) {
		out.Run = "runs/" + p.Run.String()
	}
	if p.Shared() {
		out.SharePercent = quantity.FormatFixed(p.Share, 4, 0)
	}
	out.Progress = named("progressPayments", p.Progress)
	if p.Appeal != (uuid.UUID{}) {
		out.Appeal = "appeals/" + p.Appeal.String()
	}
	for i, l := range p.Lines {
		line := lineToProto(l, terms)
		line.Line = int32(i + 1)
		if p.Schedule != (uuid.UUID{}) {
			line.Explanation.Schedule = "schedules/" + p.Schedule.String()
		}
		out.Lines = append(out.Lines, line)
	}
	return out
}

func lineToProto(l domain.Line, terms domain.Terms) *settlementv1.PayoutLine {
	out := &settlementv1.PayoutLine{
		Kind: settlementv1.LineKind(l.Kind), Code: l.Code, Description: l.Description, Amount: wire.MoneyToProto(l.Amount, terms.Currency), //nolint:gosec // one of few
		OddCent: l.Odd,
		Explanation: &settlementv1.Explanation{
			Rule: l.Why.Rule, Calculation: l.Why.Calculation, Authority: l.Why.Authority, Certificate: l.Why.Certificate,
			CertificateNumber: l.Why.CertificateNumber, Inputs: l.Why.Inputs, Readings: l.Why.Readings,
		},
	}
	if l.Quantity != nil {
		out.Quantity = wire.MassToProto(*l.Quantity, terms.Unit)
	}
	if l.Rate != nil {
		out.Rate = wire.PriceToProto(*l.Rate, terms.Currency, terms.Unit)
	}
	return out
}

// totalToProto writes a total after comparing it with itself.
func totalToProto(t domain.MemberTotal, terms domain.Terms) (*settlementv1.MemberTotal, error) {
	amount, err := t.Amount()
	if err != nil {
		return nil, err
	}
	return &settlementv1.MemberTotal{
		Member: t.Member, DisplayName: t.DisplayName, Barrels: int32(t.Barrels), PricedBarrels: int32(t.Priced), //nolint:gosec // counts of barrels
		Net: wire.MassToProto(t.Net, terms.Unit), Payable: wire.MassToProto(t.Payable, terms.Unit),
		GrossAmount: wire.MoneyToProto(t.Gross, terms.Currency), Deductions: wire.MoneyToProto(t.Deductions, terms.Currency),
		NetAmount: wire.MoneyToProto(amount, terms.Currency), Retained: wire.MoneyToProto(t.Retained, terms.Currency),
	}, nil
}

// named is "collection/{uuid}", or empty for the zero UUID.
func named(collection string, id uuid.UUID) string {
	if id == (uuid.UUID{}) {
		return ""
	}
	return collection + "/" + id.String()
}
