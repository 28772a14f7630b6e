package rpc_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/kit/rpctest"
)

func TestADuplicateIsASampleLikeAnyOtherToWhoMeasures(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	d, err := l.lead.CreateDuplicate(t.Context(), &gradingv1.CreateDuplicateRequest{RequestId: id(), Original: sample})
	require.NoError(t, err)
	require.NotEqual(t, sample, d.GetSample())
	bench, err := l.tech.ListSamples(t.Context(), &gradingv1.ListSamplesRequest{})
	require.NoError(t, err)
	require.Len(t, bench.GetSamples(), 2)
	jar := bench.GetSamples()[1]
	if jar.GetName() == sample {
		jar = bench.GetSamples()[0]
	}
	require.Equal(t, d.GetSample(), jar.GetName())
	require.Equal(t, "clover", jar.GetVariety())
	require.Equal(t, int32(2026), jar.GetCropYear())
	l.measure(sample, "17.4", "42", "46", "38")
	facts := len(l.facts())
	l.measure(d.GetSample(), "17.8", "43", "46", "38")
	require.Len(t, l.facts(), facts, "neighbours never hear of the second jar")

	pairs, err := l.lead.ListDuplicates(t.Context(), &gradingv1.ListDuplicatesRequest{})
	require.NoError(t, err)
	require.Len(t, pairs.GetDuplicates(), 1)
	require.Len(t, pairs.GetDuplicates()[0].GetDifferences(), 2)
	require.False(t, pairs.GetDuplicates()[0].GetDifferences()[0].GetAgrees())
	require.True(t, pairs.GetDuplicates()[0].GetDifferences()[1].GetAgrees())
	issue := func(name string) error {
		_, err := l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: name})
		return err
	}
	refused := rpctest.RefusedAs(t, issue(sample), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": sample, "state": "DUPLICATE_DIFFERS"})
	require.Contains(t, refused.Message, "water differs by 0.4 %, more than 0.2 %: read both again")
	rpctest.RefusedAs(t, issue(d.GetSample()), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DUPLICATE"})
	l.read(l.tech, sample, percent, "17.6", "jars disagree")
	l.read(l.tech, d.GetSample(), percent, "17.7", "jars disagree")
	require.NoError(t, issue(sample))
	_, err = l.lead.CreateDuplicate(t.Context(), &gradingv1.CreateDuplicateRequest{RequestId: id(), Original: d.GetSample()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DUPLICATE"})
}

func TestDuplicatesInPages(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	for range 3 {
		_, err := l.lead.CreateDuplicate(t.Context(), &gradingv1.CreateDuplicateRequest{RequestId: id(), Original: sample})
		require.NoError(t, err)
	}
	first, err := l.lead.ListDuplicates(t.Context(), &gradingv1.ListDuplicatesRequest{PageSize: 2})
	require.NoError(t, err)
	rest, err := l.lead.ListDuplicates(t.Context(), &gradingv1.ListDuplicatesRequest{PageSize: 2, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	require.Len(t, rest.GetDuplicates(), 1)
	require.Empty(t, rest.GetNextPageToken())
	seen := map[string]bool{}
	for _, d := range append(first.GetDuplicates(), rest.GetDuplicates()...) {
		seen[d.GetSample()] = true
	}
	require.Len(t, seen, 3)
}

func TestBorderlineIsReadTwiceMore(t *testing.T) {
	t.Parallel()
	l := newLab(t, func(a *app.App) { a.RereadsEnforced = true })
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "18.7", "42", "46", "38")
	s, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Equal(t, "18.7 % is within 0.2 % of the limit of 18.6 %: read it twice more, the mean counts", s.GetReadings()[0].GetAdvice())
	_, err = l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": sample, "state": "BORDERLINE"})
	mean, err := l.tech.RecordRereads(t.Context(), &gradingv1.RecordRereadsRequest{
		RequestId: id(), Sample: sample, Kind: percent, RawValues: []string{"18.6", "18.6"}, Instrument: "RF-2",
	})
	require.NoError(t, err)
	require.True(t, mean.GetMean())
	require.Empty(t, mean.GetAdvice())
	require.Equal(t, "18.6", mean.GetReportedValue())
	require.Equal(t, "18.6333", mean.GetComputedValue())
	require.Equal(t, "A", l.certify(sample, "").GetDecision().GetGrade())
	_, err = l.tech.RecordRereads(t.Context(), &gradingv1.RecordRereadsRequest{
		RequestId: id(), Sample: sample, Kind: percent, RawValues: []string{"18.6", "18.6"},
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_BORDERLINE"})
	_, err = l.tech.RecordRereads(t.Context(), &gradingv1.RecordRereadsRequest{RequestId: id(), Sample: sample, Kind: percent, RawValues: []string{"18.6"}})
	rpctest.Faults(t, err, "raw_values")
}
