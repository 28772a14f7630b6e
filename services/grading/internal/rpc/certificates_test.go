package rpc_test

import (
	"encoding/json"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/rpctest"
)

func TestCertificateIsReleasedBySomebodyElse(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "42", "46", "38")
	// A lead who also measures may release, but not what was measured by that same login.
	both := l.as("tech1", accessv1.Role_ROLE_LAB_LEAD)
	_, err := both.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/tech1"})
	c := l.certify(sample, "")
	require.Equal(t, "users/lead1", c.GetReleaser())
	require.Equal(t, "G-2026-000001", c.GetNumber())
	require.Equal(t, sample, c.GetSample())
	require.Equal(t, "clover", c.GetVariety())
	require.Equal(t, int32(2026), c.GetCropYear())
	require.Equal(t, gradingv1.Style_STYLE_STRAINED, c.GetStyle())
	require.Equal(t, "A", c.GetDecision().GetGrade())
	require.Equal(t, "EXTRA_LIGHT_AMBER", c.GetDecision().GetColorClass())
	require.Equal(t, "standards/us-extracted-1985", c.GetDecision().GetStandard())
	require.Equal(t, "1985-1", c.GetDecision().GetStandardVersion())
	require.Len(t, c.GetReadings(), 4)
	got, err := l.lead.GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(c, got), "kept as issued")
	s, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_CERTIFIED, s.GetState())
	require.Equal(t, c.GetName(), s.GetCertificate())
	require.Equal(t, []string{recorded, recorded, recorded, recorded, issued}, l.facts())
}

func TestCertificateIsSupersededNeverEdited(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	first := l.certify(sample, "")
	issue := func(reason string) error {
		_, err := l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample, Reason: reason})
		return err
	}
	rpctest.RefusedAs(t, issue(""), errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "reason", "certificate": first.GetName()})
	d := rpctest.RefusedAs(t, issue("please"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": sample, "state": "CERTIFIED"})
	require.Contains(t, d.Message, "G-2026-000001 rests on the same readings")
	l.read(l.second, sample, gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, "18.4", "re-test")
	second := l.certify(sample, "re-test by another technician")
	require.Equal(t, "G-2026-000002", second.GetNumber())
	require.Equal(t, first.GetName(), second.GetSupersedes())
	require.Equal(t, "A", second.GetDecision().GetGrade())
	old, err := l.lead.GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: first.GetName()})
	require.NoError(t, err)
	require.Equal(t, second.GetName(), old.GetSupersededBy())
	old.SupersededBy = ""
	require.True(t, proto.Equal(first, old), "the first certificate still says what it said")
	_, err = l.db.Pool().Exec(t.Context(), `UPDATE certificate SET grade = 'A'`)
	require.ErrorContains(t, err, "permission denied")
	_, err = l.db.Pool().Exec(t.Context(), `DELETE FROM reading`)
	require.ErrorContains(t, err, "permission denied")
}

func TestCertificateNeedsEveryFactor(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, "17.4", "")
	_, err := l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample})
	d := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": sample, "state": "WAITING"})
	require.Contains(t, d.Message, "no reading of flavour, absence of defects and colour")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_PFUND_MM, "42", "")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_FLAVOR, "46", "")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_DEFECTS, "38", "")
	filtered := func() (*gradingv1.Certificate, error) {
		return l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{
			RequestId: id(), Sample: sample, Style: gradingv1.Style_STYLE_FILTERED,
		})
	}
	_, err = filtered()
	require.Contains(t, rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, nil).Message, "no reading of clarity")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_CLARITY, "5", "")
	c, err := filtered()
	require.NoError(t, err)
	require.Equal(t, "C", c.GetDecision().GetGrade())
	require.Equal(t, "89", c.GetDecision().GetTotalScore())
}

// Numbers have no gap however many are issued at once and however many calls fail, and start anew with the local year.
func TestCertificateNumbersHaveNoGap(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	const samples = 8
	var wait sync.WaitGroup
	for i := range samples {
		sample := l.draw(fmt.Sprintf("7KQ2XN%02d", i))
		if i%2 == 0 {
			l.measure(sample, "17.4", "42", "46", "38")
		}
		wait.Add(1)
		go func() {
			defer wait.Done()
			_, err := l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample})
			if (err == nil) != (i%2 == 0) {
				t.Errorf("sample %d: %v", i, err)
			}
		}()
	}
	wait.Wait()
	list, err := l.lead.ListCertificates(t.Context(), &gradingv1.ListCertificatesRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetCertificates(), samples/2)
	for i, c := range list.GetCertificates() {
		require.Equal(t, fmt.Sprintf("G-2026-%06d", samples/2-i), c.GetNumber(), "newest first")
	}
	for _, at := range []struct {
		now    time.Time
		number string
	}{
		{time.Date(2027, 1, 1, 5, 59, 0, 0, time.UTC), "G-2026-000005"}, // 23:59 of the last day in Chicago
		{time.Date(2027, 1, 1, 6, 0, 0, 0, time.UTC), "G-2027-000001"},
	} {
		l.clock.Set(at.now)
		sample := l.draw("DRH3" + at.number[9:])
		l.measure(sample, "17.4", "42", "46", "38")
		require.Equal(t, at.number, l.certify(sample, "").GetNumber())
	}
}

func TestTenIdenticalReleasesMakeOneCertificate(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "17.4", "42", "46", "38")
	req := &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample}
	var wait sync.WaitGroup
	answers := make([]*gradingv1.Certificate, 10)
	errs := make([]error, 10)
	for i := range answers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			answers[i], errs[i] = l.lead.IssueCertificate(t.Context(), req)
		}()
	}
	wait.Wait()
	for i := range answers {
		require.NoError(t, errs[i])
		require.True(t, proto.Equal(answers[0], answers[i]))
	}
	changed := proto.CloneOf(req)
	changed.Style = gradingv1.Style_STYLE_FILTERED
	_, err := l.lead.IssueCertificate(t.Context(), changed)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)
}

func TestUnknownCertificatesAreNotFound(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	for _, name := range []string{
		"certificates/5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242", "certificates/1", "samples/5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242",
		"certificates/{5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242}",
	} {
		_, err := l.lead.GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: name})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": name})
	}
}

// A grade decision recomputes identically from the copies in its certificate.
func TestStoredDecisionsRecompute(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	for i, moisture := range []string{"17.4", "18.65", "20.1"} {
		sample := l.draw(fmt.Sprintf("7KQ2XN%02d", i))
		l.measure(sample, moisture, "42", "44", "38")
		l.certify(sample, "")
	}
	rows, err := l.db.Pool().Query(t.Context(), `SELECT decision, readings FROM certificate`)
	require.NoError(t, err)
	defer rows.Close()
	checked := 0
	for rows.Next() {
		var decision, readings []byte
		require.NoError(t, rows.Scan(&decision, &readings))
		var kept domain.Decision
		var list []domain.Reading
		require.NoError(t, json.Unmarshal(decision, &kept))
		require.NoError(t, json.Unmarshal(readings, &list))
		q := domain.Question{}
		for _, r := range list {
			again, err := domain.Measure(r.Kind, r.RawValue, r.Temperature)
			require.NoError(t, err)
			require.Equal(t, r.Reported, again.Reported)
			require.NoError(t, q.Set(r.Factor, again.Reported))
		}
		again, err := domain.Published().HouseOn("2026-09-14").Judge(&q)
		require.NoError(t, err)
		require.Equal(t, kept, again)
		checked++
	}
	require.NoError(t, rows.Err())
	require.Equal(t, 3, checked)
}
