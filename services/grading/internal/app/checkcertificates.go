package app

import (
	"bytes"
	"context"
	"fmt"

	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
)

// checkPage is how many certificates are held in memory at once.
const checkPage = 500

// CheckCertificates works every certificate out again, newest first in pages, and keeps the oldest broken one: that is
// where a reader begins to look.
func (a *App) CheckCertificates(ctx context.Context, _ *gradingv1.CheckCertificatesRequest) (*gradingv1.CheckCertificatesResponse, error) {
	answer := &gradingv1.CheckCertificatesResponse{}
	for before := (IssuedKey{}); ; {
		page, err := a.Releases.Certificates(ctx, a.DB.Pool(), before, checkPage)
		if err != nil {
			return nil, err
		}
		for i := range page {
			fault, err := a.checkCertificate(ctx, &page[i])
			if err != nil {
				return nil, err
			}
			answer.CheckedCount++
			if fault != "" {
				answer.CheckedCount, answer.Broken, answer.Explanation = 1, page[i].Certificate.Name(), fault
			}
		}
		if len(page) < checkPage {
			break
		}
		before = page[len(page)-1].Key
	}
	if answer.GetBroken() == "" {
		answer.Explanation = fmt.Sprintf("All %d certificates come out byte for byte as they are stored.", answer.GetCheckedCount())
	}
	return answer, nil
}

// checkCertificate says what is wrong with a certificate; empty for nothing.
func (a *App) checkCertificate(ctx context.Context, issued *Issued) (string, error) {
	c := &issued.Certificate
	signature, err := a.Releases.Signature(ctx, a.DB.Pool(), c.ID)
	if err != nil {
		return "", err
	}
	if verdict, text, err := c.Check(issued.Documents, signature, issued.SupersededBy != nil); err != nil || verdict == domain.Altered {
		return text, err
	}
	decision, err := a.Library.Recompute(c)
	if err != nil {
		return fmt.Sprintf("Certificate %s cannot be worked out again: %v.", c.Number, err), nil
	}
	again := *c
	again.Decision = decision
	docs, err := again.Documents()
	if err != nil {
		return "", err
	}
	if !bytes.Equal(docs.Decision, issued.Documents.Decision) {
		return fmt.Sprintf("The decision of certificate %s does not follow from its readings by %s %s.",
			c.Number, c.Decision.Standard, c.Decision.StandardVersion), nil
	}
	return "", nil
}

// ListSigningKeys publishes every key ever signed with.
func (a *App) ListSigningKeys(ctx context.Context, _ *gradingv1.ListSigningKeysRequest) (*gradingv1.ListSigningKeysResponse, error) {
	keys, err := a.Releases.SigningKeys(ctx, a.DB.Pool())
	if err != nil {
		return nil, err
	}
	answer := &gradingv1.ListSigningKeysResponse{}
	for i := range keys {
		answer.Keys = append(answer.Keys, &gradingv1.SigningKey{
			Name: "signingKeys/" + keys[i].Key.ID, PublicKey: keys[i].Key.Public, PublicKeyPem: keys[i].Key.PEM(), FirstUseTime: timestamppb.New(keys[i].FirstUse),
		})
	}
	return answer, nil
}
