package app

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/page"
)

// GetCertificate is a certificate as issued, with what superseded it.
func (a *App) GetCertificate(ctx context.Context, req *gradingv1.GetCertificateRequest) (*gradingv1.Certificate, error) {
	id, err := domain.CertificateID(req.GetName())
	if err != nil {
		return nil, err
	}
	issued, err := a.Releases.Certificate(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	answers, err := a.showCertificates(ctx, []Issued{issued})
	if err != nil {
		return nil, err
	}
	return answers[0], a.saw(ctx, "GetCertificate", answers[0].GetName())
}

// showCertificates adds to certificates what became of them since they were issued.
func (a *App) showCertificates(ctx context.Context, list []Issued) ([]*gradingv1.Certificate, error) {
	var ids []uuid.UUID
	var codes []string
	for i := range list {
		codes = append(codes, list[i].Certificate.Sample)
		for _, r := range list[i].Certificate.Readings {
			ids = append(ids, r.ID)
		}
	}
	inDoubt, err := a.Controls.InDoubt(ctx, a.DB.Pool(), ids)
	if err != nil {
		return nil, err
	}
	gaps, err := a.Custody.Gaps(ctx, a.DB.Pool(), codes...)
	if err != nil {
		return nil, err
	}
	answers := make([]*gradingv1.Certificate, 0, len(list))
	for i := range list {
		answer := message.Certificate(&list[i].Certificate, list[i].SupersededBy, a.judgedBy(&list[i].Certificate))
		answer.InDoubt = slices.ContainsFunc(list[i].Certificate.Readings, func(r domain.Reading) bool { return inDoubt[r.ID] })
		if g := list[i].Certificate.Unfit(gaps[list[i].Certificate.Sample]); g != nil {
			answer.UnfitReason = g.Words()
		}
		answers = append(answers, answer)
	}
	return answers, nil
}

// ListCertificates lists newest first.
func (a *App) ListCertificates(ctx context.Context, req *gradingv1.ListCertificatesRequest) (*gradingv1.ListCertificatesResponse, error) {
	size, err := page.Size(req.GetPageSize())
	if err != nil {
		return nil, fmt.Errorf("list certificates: %w", err)
	}
	var before IssuedKey
	if err := page.Decode(req.GetPageToken(), req, &before); err != nil {
		return nil, fmt.Errorf("list certificates: %w", err)
	}
	rows, err := a.Releases.Certificates(ctx, a.DB.Pool(), before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListCertificatesResponse{}
	rows, answer.NextPageToken = page.Cut(rows, size, req, func(i Issued) any { return i.Key })
	if answer.Certificates, err = a.showCertificates(ctx, rows); err != nil {
		return nil, err
	}
	return answer, a.saw(ctx, "ListCertificates", namesOf(answer.GetCertificates())...)
}

// VerifyCertificate tells anybody whether a certificate is what was signed.
func (a *App) VerifyCertificate(ctx context.Context, req *gradingv1.VerifyCertificateRequest) (*gradingv1.CertificateVerification, error) {
	id, err := domain.CertificateID(req.GetName())
	if err != nil {
		return nil, err
	}
	issued, err := a.Releases.Certificate(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	signature, err := a.Releases.Signature(ctx, a.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	verdict, text, err := issued.Certificate.Check(issued.Documents, signature, issued.SupersededBy != nil)
	if err != nil {
		return nil, err
	}
	return message.Verification(&issued.Certificate, issued.SupersededBy, signature, verdict, text), nil
}
