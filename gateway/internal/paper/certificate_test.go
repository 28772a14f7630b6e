package paper

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

func TestCertificate_SaysWhatDecidedAndOnWhat(t *testing.T) {
	t.Parallel()
	c := testCertificate()
	pdf, err := testPress(t, prefix).certificate(graded{certificate: c})
	require.NoError(t, err)
	text := wordsOf(t, pdf)
	for _, wanted := range []string{
		"Certificate of grade", "G-2026-000412", "Grade C, white, 19.2 % water", "T3FN4HQX6", "30 mm Pfund", "us-extracted-1985, version 1985-1", "14 Oct 2026",
		"C, decides", "at most 20.0 % is C", "45 to 50 points is A (limit not confirmed in print)", "1.4868", "21.0 °C", "RF-2", "lab1", "lead1",
		"the table gives 19.18 %, reported as 19.2 %.", "Do not feed honey to infants under 12 months of age.", "not findings of an authority", "page 1 of 1",
	} {
		require.Contains(t, text, wanted)
	}
	require.Equal(t, [][]symbol{{{Type: "QR-Code", Data: "G-2026-000412 " + checkCode(c)}}}, scan(t, pdf))
	require.Contains(t, text, checkCode(c))
}

// A buyer's copy cannot name a member: no field of a certificate could hold one.
func TestCertificate_KnowsNoMember(t *testing.T) {
	t.Parallel()
	fields := (&gradingv1.Certificate{}).ProtoReflect().Descriptor().Fields()
	for _, name := range []string{"member", "ticket", "barrel", "drum_tag"} {
		require.Nil(t, fields.ByTextName(name), name)
	}
}

func TestCertificate_NamesThoseItReplacesAndIsReplacedBy(t *testing.T) {
	t.Parallel()
	c := testCertificate()
	c.Reason = "appeal granted"
	pdf, err := testPress(t, prefix).certificate(graded{c, "certificate G-2026-000398", "certificate G-2026-000440"})
	require.NoError(t, err)
	text := wordsOf(t, pdf)
	require.Contains(t, text, "Replaced by certificate G-2026-000440. This certificate counts no more.")
	require.Contains(t, text, "Replaces certificate G-2026-000398. Why: appeal granted.")
}

func TestCheckCode_CoversWhatCouldBeChanged(t *testing.T) {
	t.Parallel()
	whole := checkCode(testCertificate())
	for name, change := range map[string]func(*gradingv1.Certificate){
		"grade":      func(c *gradingv1.Certificate) { c.Decision.Grade = "A" },
		"colour":     func(c *gradingv1.Certificate) { c.Decision.ColorClass = "WATER_WHITE" },
		"water":      func(c *gradingv1.Certificate) { c.Decision.MoisturePercent = "18.2" },
		"number":     func(c *gradingv1.Certificate) { c.Number = "G-2026-000413" },
		"reading":    func(c *gradingv1.Certificate) { c.Readings[0].RawValue = "1.4900" },
		"instrument": func(c *gradingv1.Certificate) { c.Readings[0].Instrument = "RF-3" },
		"releaser":   func(c *gradingv1.Certificate) { c.Releaser = "users/lead2" },
	} {
		c := testCertificate()
		change(c)
		require.NotEqual(t, whole, checkCode(c), name)
	}
	later := proto.CloneOf(testCertificate())
	later.SupersededBy = "certificates/c2"
	require.Equal(t, whole, checkCode(later), "what happened later was not issued")
}
