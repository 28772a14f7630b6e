package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/rpctest"
)

// broken is intake's fact that a portion cannot be vouched for; no time says that it never could.
func broken(sample string, portion intakev1.Portion, since *time.Time) feed.Event {
	fact := &intakev1.SampleCustodyBroken{Sample: sample, Portion: portion, Reason: "portion A was received at office, but it was sent to laboratory"}
	if since != nil {
		fact.SinceTime = timestamppb.New(*since)
	}
	return feed.Event{Aggregate: sample, Actor: "users/dock1", OccurTime: morning.Add(time.Hour), Payload: fact}
}

const portionB = gradingv1.SamplePortion_SAMPLE_PORTION_B

func TestAResultOfABrokenChainDocksNobody(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	first := l.certify(sample, "")
	before := morning.Add(-time.Minute)
	facts := l.applied(broken(sample, intakev1.Portion_PORTION_A, &before))
	require.Len(t, facts, 1)
	unfit, ok := facts[0].Payload.(*gradingv1.CertificateUnfit)
	require.True(t, ok)
	require.Equal(t, first.GetName(), unfit.GetCertificate())
	require.Contains(t, unfit.GetExplanation(), "received at office")
	l.apply(broken(sample, intakev1.Portion_PORTION_C, &before)) // nothing rests on C
	shown, err := l.tech.GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: first.GetName()})
	require.NoError(t, err)
	require.Equal(t, unfit.GetExplanation(), shown.GetUnfitReason())
	got, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_PENDING, got.GetState())
	require.Len(t, got.GetCustodyGaps(), 2)
	// Neither is the jar read again, nor its readings released.
	_, err = l.second.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{RequestId: id(), Sample: sample, Kind: percent, RawValue: "19.4", Reason: "again"})
	unfitState := map[string]string{"resource": sample, "state": "UNFIT"}
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, unfitState)
	_, err = l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: sample, Reason: "again"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, unfitState)
	// Portion B was vouched for all the time: once everything is read on it, the certificate is superseded.
	for kind, raw := range map[gradingv1.ReadingKind]string{
		percent: "19.1", gradingv1.ReadingKind_READING_KIND_PFUND_MM: "42", gradingv1.ReadingKind_READING_KIND_FLAVOR: "46", gradingv1.ReadingKind_READING_KIND_DEFECTS: "38",
	} {
		r, err := l.tech.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{
			RequestId: id(), Sample: sample, Kind: kind, RawValue: raw, Portion: portionB, Reason: "portion A cannot be vouched for",
		})
		require.NoError(t, err)
		require.Equal(t, portionB, r.GetPortion())
	}
	second := l.certify(sample, "read on portion B")
	require.Empty(t, second.GetUnfitReason())
	require.Equal(t, first.GetName(), second.GetSupersedes())
	require.Equal(t, portionB, second.GetReadings()[0].GetPortion())
	checked, err := l.lead.CheckCertificates(t.Context(), &gradingv1.CheckCertificatesRequest{})
	require.NoError(t, err)
	require.Empty(t, checked.GetBroken(), checked.GetExplanation())
}

func TestWhatWasMeasuredWhileTheChainHeldStands(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	c := l.certify(sample, "")
	held := morning.Add(time.Hour)
	l.apply(broken(sample, intakev1.Portion_PORTION_A, &held))
	shown, err := l.tech.GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.Empty(t, shown.GetUnfitReason())
	// Not known ever to have held, it spoils everything; only the first gap of a portion counts.
	other := l.draw("7KQ2XN02")
	l.measure(other, "19.4", "42", "46", "38")
	l.certify(other, "")
	require.Len(t, l.applied(broken(other, intakev1.Portion_PORTION_A, nil)), 1)
}

func TestASecondLookNeedsAPortionThatCanBeVouchedFor(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	c := l.certify(sample, "")
	l.apply(broken(sample, intakev1.Portion_PORTION_B, nil))
	appeal, err := l.open(c.GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	require.NoError(t, err)
	measure := func(portion gradingv1.SamplePortion) error {
		_, err := l.second.RecordAppealReading(t.Context(), &gradingv1.RecordAppealReadingRequest{
			RequestId: id(), Appeal: appeal.GetName(), Kind: percent, RawValue: "18.9", Portion: portion,
		})
		return err
	}
	rpctest.RefusedAs(t, measure(0), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": sample, "state": "UNFIT"})
	rpctest.RefusedAs(t, measure(gradingv1.SamplePortion_SAMPLE_PORTION_C), errorv1.Reason_REASON_FIELD_INVALID, map[string]string{"field": "portion"})
	require.NoError(t, measure(gradingv1.SamplePortion_SAMPLE_PORTION_A))
	decided, err := l.lead.DecideAppeal(t.Context(), &gradingv1.DecideAppealRequest{RequestId: id(), Appeal: appeal.GetName()})
	require.NoError(t, err)
	require.True(t, decided.GetUpheld())
}
