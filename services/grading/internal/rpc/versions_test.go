package rpc_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

// stricter adds a version of the house standard that asks for less water and applies from a day.
func stricter(t *testing.T, day string) func(*app.App) {
	t.Helper()
	text, err := domain.StandardText(domain.HouseStandard)
	require.NoError(t, err)
	changed := strings.NewReplacer(`"version": "1985-1"`, `"version": "2026-1"`, `"effective_date": "1985-05-23"`, `"effective_date": "`+day+`"`,
		`"at_most": "18.6"`, `"at_most": "18.0"`).Replace(string(text))
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "us-2026.json"), []byte(changed), 0o600))
	lib, err := domain.ReadLibrary(os.DirFS(dir))
	require.NoError(t, err)
	return func(a *app.App) { a.Library = lib }
}

func (l *lab) check() *gradingv1.CheckCertificatesResponse {
	l.t.Helper()
	r, err := l.lead.CheckCertificates(l.t.Context(), &gradingv1.CheckCertificatesRequest{})
	require.NoError(l.t, err)
	return r
}

// A sample is judged by the version in force on the day it was drawn, by the cooperative's calendar, whenever it is
// measured. Every certificate comes out byte for byte as stored, before and after the new version is known.
func TestANewVersionJudgesWhatIsDrawnFromItsDayOn(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	old := l.draw("7KQ2XN4T")
	l.measure(old, "18.3", "42", "46", "38")
	first := l.certify(old, "")
	require.Equal(t, int32(1), l.check().GetCheckedCount())

	// 2026-09-15 begins at 05:00 Universal Time where the cooperative is.
	stricter(t, "2026-09-15")(l.app)
	late, early := l.drawAt("DRH3C9WY", morning.Add(15*time.Hour)), l.drawAt("DRH3C9WX", morning.Add(16*time.Hour))
	for sample, want := range map[string][2]string{late: {"1985-1", "A"}, early: {"2026-1", "C"}} {
		l.measure(sample, "18.3", "42", "46", "38")
		c := l.certify(sample, "")
		require.Equal(t, want, [2]string{c.GetDecision().GetStandardVersion(), c.GetDecision().GetGrade()}, sample)
	}
	// A re-test of the old sample is still judged by the old version.
	l.read(l.second, old, percent, "18.4", "asked for")
	second := l.certify(old, "asked for")
	require.Equal(t, "1985-1", second.GetDecision().GetStandardVersion())
	require.Equal(t, first.GetDecision().GetGrade(), second.GetDecision().GetGrade())
	got := l.check()
	require.Equal(t, int32(4), got.GetCheckedCount())
	require.Empty(t, got.GetBroken())
	require.Equal(t, "All 4 certificates come out byte for byte as they are stored.", got.GetExplanation())

	// A question may name the day or the version.
	for _, c := range []struct{ day, version, grade string }{
		{"2026-09-14", "", "A"}, {"2026-09-15", "", "C"}, {"2026-09-15", "1985-1", "A"}, {"", "2026-1", "C"}, {"", "", "A"},
	} {
		d, err := l.tech.Evaluate(t.Context(), &gradingv1.EvaluateRequest{
			Standard: "standards/" + domain.HouseStandard, MoisturePercent: "18.3", DrawDate: c.day, StandardVersion: c.version,
		})
		require.NoError(t, err)
		require.Equal(t, c.grade, d.GetGrade(), c)
	}
	_, err := l.tech.Evaluate(t.Context(), &gradingv1.EvaluateRequest{Standard: "standards/" + domain.HouseStandard, MoisturePercent: "18", DrawDate: "2026-02-30"})
	rpctest.Faults(t, err, "draw_date")
	_, err = l.tech.Evaluate(t.Context(), &gradingv1.EvaluateRequest{Standard: "standards/" + domain.HouseStandard, MoisturePercent: "18", StandardVersion: "2025-1"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	list, err := l.tech.ListStandards(t.Context(), &gradingv1.ListStandardsRequest{})
	require.NoError(t, err)
	replaced := map[string]string{}
	for _, s := range list.GetStandards() {
		if s.GetName() == "standards/"+domain.HouseStandard {
			replaced[s.GetVersion()] = s.GetReplacedDate()
		}
	}
	require.Equal(t, map[string]string{"1985-1": "2026-09-15", "2026-1": ""}, replaced)
}

// Bad day: someone with access to the database edits readings; the check names the first broken record.
func TestTheCheckNamesTheFirstBrokenRecord(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	var names []string
	for _, body := range []string{"7KQ2XN01", "7KQ2XN02", "7KQ2XN03"} {
		sample := l.draw(body)
		l.measure(sample, "17.4", "51", "46", "38")
		names = append(names, l.certify(sample, "").GetName())
	}
	pgtest.Exec(t, "grading", `UPDATE certificate SET readings = replace(readings::text, '510000', '500000')::json WHERE counter >= 2`)
	got := l.check()
	require.Equal(t, names[1], got.GetBroken())
	require.Contains(t, got.GetExplanation(), "G-2026-000002 is not what was signed")
	// Without a signature the arithmetic still tells.
	pgtest.Exec(t, "grading", `DELETE FROM certificate_signature`)
	got = l.check()
	require.Equal(t, names[1], got.GetBroken())
	require.Contains(t, got.GetExplanation(), "does not follow from its readings")
}

// The published key, the shown text and the signature are all a stranger needs, and a tool nobody here wrote.
func TestOpenSSLVerifiesACertificate(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "42", "46", "38")
	v, err := l.stranger().VerifyCertificate(t.Context(), &gradingv1.VerifyCertificateRequest{Name: l.certify(sample, "").GetName()})
	require.NoError(t, err)
	keys, err := l.stranger().ListSigningKeys(t.Context(), &gradingv1.ListSigningKeysRequest{})
	require.NoError(t, err)
	require.Len(t, keys.GetKeys(), 1)
	key := keys.GetKeys()[0]
	require.Equal(t, "signingKeys/"+v.GetSigningKey(), key.GetName())
	require.Equal(t, v.GetPublicKey(), key.GetPublicKey())
	require.Equal(t, v.GetPublicKeyPem(), key.GetPublicKeyPem())
	require.NotNil(t, key.GetFirstUseTime())
	require.Contains(t, v.GetPayload(), `"moisture_percent":"17.4"`)

	require.Contains(t, openssl(t, key.GetPublicKeyPem(), v.GetPayload(), v.GetSignature(), true), "Signature Verified Successfully")
	changed := strings.Replace(v.GetPayload(), `"moisture_percent":"17.4"`, `"moisture_percent":"17.3"`, 1)
	openssl(t, key.GetPublicKeyPem(), changed, v.GetSignature(), false)
	v.Signature[10] ^= 1
	openssl(t, key.GetPublicKeyPem(), v.GetPayload(), v.GetSignature(), false)
}

func openssl(t *testing.T, key, text string, signature []byte, good bool) string {
	t.Helper()
	dir := t.TempDir()
	file := func(name string, content []byte) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, content, 0o600))
		return path
	}
	out, err := exec.CommandContext(t.Context(), "openssl", "pkeyutl", "-verify", "-pubin", "-inkey", file("key.pem", []byte(key)),
		"-rawin", "-in", file("payload", []byte(text)), "-sigfile", file("signature", signature)).CombinedOutput()
	require.Equal(t, good, err == nil, "%v: %s", err, out)
	if !good {
		require.Contains(t, string(out), "Signature Verification Failure")
	}
	return string(out)
}

// The inspector of a comb asks as the buyer of a drum does.
func TestFurtherQuestions(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	d, err := l.tech.Evaluate(t.Context(), &gradingv1.EvaluateRequest{Standard: "standards/us-comb-1933", SectionWeightOz: "11.5", Capping: "3", CombSurface: "3", CombUniformity: "1"})
	require.NoError(t, err)
	require.Equal(t, "NO_1", d.GetGrade())
	both, err := l.tech.CompareStandards(t.Context(), &gradingv1.CompareStandardsRequest{SectionWeightOz: "12.3", DrawDate: "2026-09-14"})
	require.NoError(t, err)
	require.Len(t, both.GetDecisions(), 2)
	require.Contains(t, both.GetSummary(), "US comb Fancy; Wisconsin No. 1 comb: net weight of the section at 12.3 oz is under 12.5 oz")
	v, err := l.as("line1", accessv1.Role_ROLE_LINE).JudgeOriginShare(t.Context(), &gradingv1.JudgeOriginShareRequest{TracedPercent: "47.49", PrintedPercent: "50"})
	require.NoError(t, err)
	require.False(t, v.GetAllowed())
	_, err = l.tech.JudgeOriginShare(t.Context(), &gradingv1.JudgeOriginShareRequest{TracedPercent: "x", PrintedPercent: "101"})
	rpctest.Faults(t, err, "traced_percent", "printed_percent")
	facts, err := l.tech.DeriveFacts(t.Context(), &gradingv1.DeriveFactsRequest{BottleEmptyG: "28.4773", BottleWaterG: "54.8809", BottleHoneyG: "65.2718"})
	require.NoError(t, err)
	require.Len(t, facts.GetFacts(), 1)
	sample := l.draw("7KQ2XN4T")
	require.Equal(t, "18.0", l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_SPECIFIC_GRAVITY, "1.4171", "").GetReportedValue())
	require.Equal(t, "50.0", l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_OPTICAL_DENSITY_560, "0.595", "").GetReportedValue())
}
