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
