package gatetest

import (
	"context"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// MemberAccount stands for loans, charges, tax figures, statements on paper and questions.
type MemberAccount struct {
	settlementv1.UnimplementedMemberAccountServiceServer
	house *House
}

// GenuineCode is the verification code of the only statement that was put on paper.
const GenuineCode = "0123456789abcdef"

// VerifyStatement knows one code.
func (m MemberAccount) VerifyStatement(ctx context.Context, r *settlementv1.VerifyStatementRequest) (*settlementv1.VerifyStatementResponse, error) {
	if r.GetVerificationCode() != GenuineCode {
		return &settlementv1.VerifyStatementResponse{Headline: "No statement with this code was printed here. Ask the office before you rely on it."}, m.house.note(ctx, r)
	}
	return &settlementv1.VerifyStatementResponse{
		Genuine: true, Number: "M-0012/2026/1", CropYear: 2026, Balance: &typev1.Money{Amount: "683.03", CurrencyCode: "USD"}, IssueDate: "2026-09-14",
		Headline: "Statement M-0012/2026/1 was printed here on 2026-09-14 with a balance of $683.03.",
	}, m.house.note(ctx, r)
}

// ExportTaxRecords answers a file of two lines.
func (m MemberAccount) ExportTaxRecords(ctx context.Context, r *settlementv1.ExportTaxRecordsRequest) (*settlementv1.TaxFile, error) {
	return &settlementv1.TaxFile{Content: []byte("member,name\nM-0012,Juniper Ridge\n"), ContentType: "text/csv; charset=utf-8", FileName: "tax-2026.csv"}, m.house.note(ctx, r)
}

func taxRecord(member string) *settlementv1.TaxRecord {
	r := &settlementv1.TaxRecord{
		Member: member, DisplayName: "Juniper Ridge", Year: 2026, PoolPayments: usd("683.03"), MustFile: true,
		Reason: "boxes 1, 2, 3 and 5 come to $38.40, at or above $10.00 a person a year, 26 USC 6044(a)(1)", Caution: "These are figures for the cooperative's accountant. They are not tax advice.",
		Payees: []*settlementv1.TaxPayee{{Payee: "Juniper Ridge", Right: "member", Paid: usd("683.03")}},
	}
	for box := range int32(9) {
		r.Boxes = append(r.Boxes, &settlementv1.TaxBox{Box: box + 1, Title: "Title of the box", Amount: usd("38.40"), Explanation: "nothing in the year"})
	}
	return r
}

// GetTaxRecord answers for members the caller may see.
func (m MemberAccount) GetTaxRecord(ctx context.Context, r *settlementv1.GetTaxRecordRequest) (*settlementv1.TaxRecord, error) {
	if err := m.house.note(ctx, r); err != nil {
		return nil, err
	}
	if !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	return taxRecord(r.GetMember()), nil
}

// ListTaxRecords has one member.
func (m MemberAccount) ListTaxRecords(ctx context.Context, r *settlementv1.ListTaxRecordsRequest) (*settlementv1.ListTaxRecordsResponse, error) {
	one := taxRecord("members/M-0012")
	return &settlementv1.ListTaxRecordsResponse{
		TaxRecords: []*settlementv1.TaxRecord{one}, Totals: one.GetBoxes(), StatementDueDate: "2027-01-31", Caution: one.GetCaution(), Sources: []string{"a figure of the law"},
	}, m.house.note(ctx, r)
}

// ListPatronageRefunds has one.
func (m MemberAccount) ListPatronageRefunds(ctx context.Context, r *settlementv1.ListPatronageRefundsRequest) (*settlementv1.ListPatronageRefundsResponse, error) {
	return &settlementv1.ListPatronageRefundsResponse{PatronageRefunds: []*settlementv1.PatronageRefund{{
		Name: "patronageRefunds/1", CropYear: 2025, FiscalYearEnd: "2026-06-30", PaymentPeriodEnd: "2027-03-15", Total: usd("1000.00"), Cash: usd("200.00"), Notices: usd("800.00"),
		Members: 12, Qualified: true, Resolution: "Annual meeting 2026, resolution 2", OddCents: []string{"M-0012"},
	}}}, m.house.note(ctx, r)
}

// AllocatePatronage is only noted.
func (m MemberAccount) AllocatePatronage(ctx context.Context, r *settlementv1.AllocatePatronageRequest) (*settlementv1.PatronageRefund, error) {
	return &settlementv1.PatronageRefund{Name: "patronageRefunds/2"}, m.house.note(ctx, r)
}

// DesignateRetains is only noted.
func (m MemberAccount) DesignateRetains(ctx context.Context, r *settlementv1.DesignateRetainsRequest) (*settlementv1.RetainDesignation, error) {
	return &settlementv1.RetainDesignation{CropYear: r.GetCropYear()}, m.house.note(ctx, r)
}

// ListHaulingRates has one zone.
func (m MemberAccount) ListHaulingRates(ctx context.Context, r *settlementv1.ListHaulingRatesRequest) (*settlementv1.ListHaulingRatesResponse, error) {
	return &settlementv1.ListHaulingRatesResponse{HaulingRates: []*settlementv1.HaulingRate{{
		Zone: "B", EffectiveDate: "2026-07-01", Rate: &typev1.Price{Amount: "0.02", CurrencyCode: "USD", PerUnit: "LB"}, Resolution: "Board 2026-06-14 no. 5",
	}}}, m.house.note(ctx, r)
}

// SetHaulingRate is only noted.
func (m MemberAccount) SetHaulingRate(ctx context.Context, r *settlementv1.SetHaulingRateRequest) (*settlementv1.HaulingRate, error) {
	return r.GetHaulingRate(), m.house.note(ctx, r)
}

// ChargeHauling charges one member.
func (m MemberAccount) ChargeHauling(ctx context.Context, r *settlementv1.ChargeHaulingRequest) (*settlementv1.ChargeHaulingResponse, error) {
	return &settlementv1.ChargeHaulingResponse{Total: usd("-12.88"), Charges: []*settlementv1.MemberCharge{{
		Member: "members/M-0012", Amount: usd("-12.88"), Description: "Hauling of delivery " + r.GetTicketNumber() + " from zone B", Calculation: "641.0 lb × $0.0201 = $12.88",
	}}}, m.house.note(ctx, r)
}

// GetAssessment is borne by the cooperative.
func (m MemberAccount) GetAssessment(ctx context.Context, r *settlementv1.GetAssessmentRequest) (*settlementv1.Assessment, error) {
	return &settlementv1.Assessment{
		Month: r.GetMonth(), Handled: lb("12345.5"), HandledInYear: lb("40000.0"), Rate: &typev1.Price{Amount: "0.015", CurrencyCode: "USD", PerUnit: "LB"}, RateSource: "assessment: $0.015 per lb, from 2016-01-01 on. Source: 80 FR 22361 (22 Apr 2015), read there",
		Amount: usd("185.18"), DueDate: "2026-10-15", ExemptionBelow: lb("250000.0"), MayBeExempt: true, PassedOn: usd("0.00"),
		Headline: "The cooperative bears the assessment as first handler; nothing is deducted from members.",
	}, m.house.note(ctx, r)
}

// RenderTaxRecord answers a file for members the caller may see.
func (m MemberAccount) RenderTaxRecord(ctx context.Context, r *settlementv1.RenderTaxRecordRequest) (*settlementv1.TaxFile, error) {
	if err := m.house.note(ctx, r); err != nil {
		return nil, err
	}
	if !access.SeesMember(ctx, r.GetMember()) {
		return nil, apierr.NotFound(r.GetMember())
	}
	return &settlementv1.TaxFile{Content: []byte("%PDF-1.7 tax of " + r.GetMember()), ContentType: "application/pdf", FileName: "tax-M-0012-2026.pdf"}, nil
}
