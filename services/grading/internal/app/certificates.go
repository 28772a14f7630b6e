package app

import (
	"context"
	"fmt"

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
	return message.Certificate(&issued.Certificate, issued.SupersededBy), nil
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
	if len(rows) > size {
		rows = rows[:size]
		answer.NextPageToken = page.Encode(rows[size-1].Key, req)
	}
	for i := range rows {
		answer.Certificates = append(answer.Certificates, message.Certificate(&rows[i].Certificate, rows[i].SupersededBy))
	}
	return answer, nil
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
