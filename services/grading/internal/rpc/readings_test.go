package rpc_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/message"
	"barrelhead.example/services/kit/rpctest"
)

const (
	recorded = "barrelhead.grading.v1.ReadingRecorded"
	issued   = "barrelhead.grading.v1.CertificateIssued"
)

// The wire numbers of methods and states are taken as the domain's own.
func TestWireNamesAreTheDomainsNames(t *testing.T) {
	t.Parallel()
	for _, k := range domain.Kinds() {
		require.Equal(t, int32(k), int32(message.Kind(k)), k.String())
		require.NotZero(t, message.Kind(k))
	}
	require.Len(t, gradingv1.ReadingKind_name, len(domain.Kinds())+1)
	for _, f := range domain.Factors() {
		require.NotZero(t, message.Factor(f), f.String())
	}
	require.Len(t, gradingv1.Factor_name, len(domain.Factors())+1)
	for s := domain.Waiting; s <= domain.Pending; s++ {
		require.Equal(t, "SAMPLE_STATE_"+s.String(), gradingv1.SampleState(s).String())
	}
	require.NotZero(t, message.Style(domain.Filtered))
	require.NotZero(t, message.Style(domain.Strained))
}

func TestRecordReading(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	r, err := l.tech.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{
		RequestId: id(), Sample: sample, Kind: gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX,
		RawValue: "1.4903", TemperatureC: "15.0", Instrument: "RF-2",
	})
	require.NoError(t, err)
	require.Equal(t, "users/tech1", r.GetAnalyst())
	require.Equal(t, "1.4903", r.GetRawValue())
	require.Equal(t, "15.0", r.GetTemperatureC())
	require.Equal(t, "RF-2", r.GetInstrument())
	require.Equal(t, gradingv1.Factor_FACTOR_MOISTURE, r.GetFactor())
	require.Equal(t, "18.94", r.GetComputedValue())
	require.Equal(t, "18.9", r.GetReportedValue())
	require.Equal(t, "Refractive index 1.4903 at 15.0 °C is 1.48915 at 20 °C, by the table 18.94 % water, reported as 18.9 % (rounded once, half up).", r.GetExplanation())
	require.Empty(t, r.GetReplaces())
	got, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Len(t, got.GetReadings(), 1)
	require.True(t, proto.Equal(r, got.GetReadings()[0]), "what was answered is what is kept")
	require.Equal(t, []string{recorded}, l.facts())
}

// Bad day: somebody enters 1.79 for 17.9. It is refused with the range, not silently mended.
func TestSlippedDecimalPointIsRefused(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	_, err := l.tech.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{
		RequestId: id(), Sample: sample, Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValue: "1.79",
	})
	d := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "raw_value", "low": "12.0", "high": "25.0"})
	require.Contains(t, d.Message, "1.79 % water")
	require.Empty(t, l.facts())
}

// Bad day: exactly 18.6 is within the limit; an instrument showing 18.65 is reported by the one rule, the same for all.
func TestTheLimitItselfAndTheRoundingRule(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	at, over := l.draw("7KQ2XN4T"), l.draw("DRH3C9WY")
	l.measure(at, "18.6", "42", "46", "38")
	l.measure(over, "18.65", "42", "46", "38")
	require.Equal(t, "A", l.certify(at, "").GetDecision().GetGrade())
	c := l.certify(over, "")
	require.Equal(t, "C", c.GetDecision().GetGrade())
	require.Equal(t, "18.7", c.GetDecision().GetMoisturePercent())
	require.Contains(t, c.GetDecision().GetExplanation(), "18.7 % water is over the 18.6 % limit of grades A and B, so the sample is grade C")
}

func TestRecordReadingRefusals(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_PFUND_MM, "42", "")
	base := func() *gradingv1.RecordReadingRequest {
		return &gradingv1.RecordReadingRequest{
			RequestId: id(), Sample: sample, Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValue: "17.4",
		}
	}
	send := func(change func(*gradingv1.RecordReadingRequest)) error {
		r := base()
		change(r)
		_, err := l.tech.RecordReading(t.Context(), r)
		return err
	}
	rpctest.Faults(t, send(func(r *gradingv1.RecordReadingRequest) {
		r.RequestId, r.Sample, r.Kind, r.RawValue = "1", "", 0, "dry"
	}), "request_id", "sample", "kind", "raw_value")
	rpctest.Faults(t, send(func(r *gradingv1.RecordReadingRequest) { r.Sample = "samples/7KQ2XN4T" }), "sample")
	rpctest.Faults(t, send(func(r *gradingv1.RecordReadingRequest) { r.TemperatureC = "23" }), "temperature_c")
	unknown := "samples/" + code(t, "WWWWWWWW")
	rpctest.RefusedAs(t, send(func(r *gradingv1.RecordReadingRequest) { r.Sample = unknown }),
		errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": unknown})
	d := rpctest.RefusedAs(t, send(func(r *gradingv1.RecordReadingRequest) {
		r.Kind, r.RawValue = gradingv1.ReadingKind_READING_KIND_ABSORBANCE_635, "0.2"
	}), errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "reason"})
	require.Contains(t, d.Message, "42.0 mm by users/tech1")
}

func TestReadingsReplaceOneAnotherInOneLine(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	first := l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, "17.4", "")
	second := l.read(l.second, sample, gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX, "1.4915", "air bubble")
	require.Equal(t, first.GetName(), second.GetReplaces())
	require.Equal(t, "air bubble", second.GetReason())
	const replicas = 6
	var wait sync.WaitGroup
	errs := make([]error, replicas)
	for i := range replicas {
		wait.Add(1)
		go func() {
			defer wait.Done()
			_, errs[i] = l.tech.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{
				RequestId: id(), Sample: sample, Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValue: "17.5", Reason: "again",
			})
		}()
	}
	wait.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
	got, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Len(t, got.GetReadings(), 1, "one reading of a factor stands")
	var chained int
	require.NoError(t, l.db.Pool().QueryRow(t.Context(), `SELECT count(DISTINCT replaces) FROM reading`).Scan(&chained))
	require.Equal(t, 1+replicas, chained)
}

func TestTenIdenticalRequestsHaveOneEffect(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	req := &gradingv1.RecordReadingRequest{
		RequestId: id(), Sample: sample, Kind: gradingv1.ReadingKind_READING_KIND_PFUND_MM, RawValue: "42",
	}
	var wait sync.WaitGroup
	answers := make([]*gradingv1.Reading, 10)
	errs := make([]error, 10)
	for i := range answers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			answers[i], errs[i] = l.tech.RecordReading(t.Context(), req)
		}()
	}
	wait.Wait()
	for i := range answers {
		require.NoError(t, errs[i])
		require.True(t, proto.Equal(answers[0], answers[i]))
	}
	require.Equal(t, []string{recorded}, l.facts())
	changed := proto.CloneOf(req)
	changed.RawValue = "43"
	_, err := l.tech.RecordReading(t.Context(), changed)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, map[string]string{"request_id": req.GetRequestId()})
	_, err = l.second.RecordReading(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)
}
