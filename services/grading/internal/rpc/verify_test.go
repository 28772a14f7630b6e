package rpc_test

import (
	"crypto/ed25519"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

// stranger is anybody on the internet who was shown a certificate.
func (l *lab) stranger() gradingv1.GradingServiceClient {
	return gradingv1.NewGradingServiceClient(l.server.Gateway())
}

func TestAnybodyMayVerifyACertificate(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "42", "46", "38")
	c := l.certify(sample, "")
	v, err := l.stranger().VerifyCertificate(t.Context(), &gradingv1.VerifyCertificateRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.Equal(t, gradingv1.Authenticity_AUTHENTICITY_GENUINE, v.GetAuthenticity())
	require.Equal(t, "A", v.GetGrade())
	require.Empty(t, v.GetSupersededBy())
	require.True(t, ed25519.Verify(v.GetPublicKey(), []byte(v.GetPayload()), v.GetSignature()), "checked without us")
	for _, person := range []string{"users/", sample} {
		require.NotContains(t, protojson.Format(v), person)
	}
	l.read(l.second, sample, percent, "17.5", "re-test")
	second := l.certify(sample, "re-test")
	v, err = l.stranger().VerifyCertificate(t.Context(), &gradingv1.VerifyCertificateRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.Equal(t, second.GetName(), v.GetSupersededBy())
	_, err = l.stranger().VerifyCertificate(t.Context(), &gradingv1.VerifyCertificateRequest{Name: "certificates/G-2026-000001"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

// Bad day: someone with access to the database edits a colour reading.
func TestAnEditedRecordIsFound(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "51", "46", "38")
	c := l.certify(sample, "")
	pgtest.Exec(t, "grading", `UPDATE certificate SET readings = replace(readings::text, '510000', '500000')::json`)
	v, err := l.stranger().VerifyCertificate(t.Context(), &gradingv1.VerifyCertificateRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.Equal(t, gradingv1.Authenticity_AUTHENTICITY_ALTERED, v.GetAuthenticity())
	require.Contains(t, v.GetExplanation(), "Do not rely on it")
	require.Empty(t, v.GetGrade(), "the figures are worth nothing")
}

func TestWithoutAKeyCertificatesAreUnsigned(t *testing.T) {
	t.Parallel()
	l := newLab(t, func(a *app.App) { a.Signer = nil })
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "51", "46", "38")
	v, err := l.stranger().VerifyCertificate(t.Context(), &gradingv1.VerifyCertificateRequest{Name: l.certify(sample, "").GetName()})
	require.NoError(t, err)
	require.Equal(t, gradingv1.Authenticity_AUTHENTICITY_UNSIGNED, v.GetAuthenticity())
	require.Equal(t, "A", v.GetGrade())
}
