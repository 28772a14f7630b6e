package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/rpctest"
)

func (l *lab) office() gradingv1.GradingServiceClient {
	return l.as("office1", accessv1.Role_ROLE_OFFICE)
}

func (l *lab) open(certificate string, stage gradingv1.AppealStage) (*gradingv1.Appeal, error) {
	return l.office().OpenAppeal(l.t.Context(), &gradingv1.OpenAppealRequest{
		RequestId: id(), Certificate: certificate, Factor: gradingv1.Factor_FACTOR_MOISTURE, Stage: stage, Reason: "the neighbour's refractometer said less",
	})
}

func (l *lab) secondLook(who gradingv1.GradingServiceClient, appeal, raw, laboratory string) (*gradingv1.Appeal, error) {
	return who.RecordAppealReading(l.t.Context(), &gradingv1.RecordAppealReadingRequest{
		RequestId: id(), Appeal: appeal, Kind: percent, RawValue: raw, Instrument: "RF-1", Laboratory: laboratory,
	})
}

func (l *lab) decide(who gradingv1.GradingServiceClient, appeal string) (*gradingv1.Appeal, error) {
	return who.DecideAppeal(l.t.Context(), &gradingv1.DecideAppealRequest{RequestId: id(), Appeal: appeal})
}

// Bad day: a member appeals on day 31 of 30. It is refused with the date it ended and the way to the board.
func TestAppealOnDay31(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	c := l.certify(sample, "")
	require.Equal(t, "2026-10-14", c.GetAppealUntil())
	l.clock.Set(time.Date(2026, 10, 15, 5, 0, 0, 0, time.UTC)) // midnight in Chicago
	_, err := l.open(c.GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	d := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_DEADLINE_PASSED, map[string]string{"ended": "2026-10-14"})
	require.Contains(t, d.Message, "ended on 2026-10-14")
	require.Contains(t, d.Message, "before the board")
	l.clock.Set(time.Date(2026, 10, 15, 4, 59, 0, 0, time.UTC))
	_, err = l.open(c.GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	require.NoError(t, err)
}

// Bad day: our re-test confirms 19.4, the referee finds 18.9. The difference is material, so the certificate is superseded
// and the fee refunded.
func TestRefereeOverturnsTheCertificate(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	first := l.certify(sample, "")
	retest, err := l.open(first.GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	require.NoError(t, err)
	require.Equal(t, gradingv1.AppealState_APPEAL_STATE_OPEN, retest.GetState())
	_, err = l.decide(l.lead, retest.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": retest.GetName(), "state": "OPEN"})
	_, err = l.secondLook(l.tech, retest.GetName(), "19.4", "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/tech1"})
	_, err = l.secondLook(l.second, retest.GetName(), "19.3", "")
	require.NoError(t, err)
	_, err = l.decide(l.as("tech2", accessv1.Role_ROLE_LAB_LEAD), retest.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/tech2"})
	stands, err := l.decide(l.lead, retest.GetName())
	require.NoError(t, err)
	require.False(t, stands.GetUpheld())
	require.Equal(t, gradingv1.AppealFee_APPEAL_FEE_NONE, stands.GetFee())
	require.Contains(t, stands.GetExplanation(), "a difference of 0.1 %, within the 0.2 %")

	_, err = l.open(first.GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": retest.GetName(), "state": "DECIDED"})
	referee, err := l.open(first.GetName(), gradingv1.AppealStage_APPEAL_STAGE_REFEREE)
	require.NoError(t, err)
	require.Equal(t, gradingv1.AppealFee_APPEAL_FEE_OPEN, referee.GetFee())
	_, err = l.secondLook(l.second, referee.GetName(), "18.9", "")
	rpctest.Faults(t, err, "laboratory")
	_, err = l.secondLook(l.second, referee.GetName(), "18.9", "Outside Laboratory, report 4711")
	require.NoError(t, err)
	upheld, err := l.decide(l.lead, referee.GetName())
	require.NoError(t, err)
	require.True(t, upheld.GetUpheld())
	require.Equal(t, gradingv1.AppealFee_APPEAL_FEE_REFUNDED, upheld.GetFee())
	require.Equal(t, gradingv1.AppealState_APPEAL_STATE_DECIDED, upheld.GetState())
	require.Equal(t, "Outside Laboratory, report 4711", upheld.GetLaboratory())

	second, err := l.lead.GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: upheld.GetNewCertificate()})
	require.NoError(t, err)
	require.Equal(t, first.GetName(), second.GetSupersedes())
	require.Equal(t, "18.9", second.GetDecision().GetMoisturePercent())
	require.Equal(t, "appeal upheld by referee: the neighbour's refractometer said less", second.GetReason())
	require.Equal(t, upheld.GetNewCertificate(), lastFact(l, &gradingv1.AppealDecided{}).GetAppeal().GetNewCertificate())
	require.Equal(t, second.GetName(), lastFact(l, &gradingv1.CertificateIssued{}).GetCertificate().GetName())
	_, err = l.open(second.GetName(), gradingv1.AppealStage_APPEAL_STAGE_REFEREE)
	d := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": referee.GetName()})
	require.Contains(t, d.Message, "whose result is final")
	_, err = l.decide(l.lead, referee.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DECIDED"})
	_, err = l.open(first.GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": first.GetName(), "state": "SUPERSEDED"})
}

func TestRetestOverturnsTheCertificate(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	sample := l.draw("7KQ2XN4T")
	l.measure(sample, "19.4", "42", "46", "38")
	appeal, err := l.open(l.certify(sample, "").GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
	require.NoError(t, err)
	_, err = l.secondLook(l.second, appeal.GetName(), "18.4", "")
	require.NoError(t, err)
	upheld, err := l.decide(l.lead, appeal.GetName())
	require.NoError(t, err)
	require.True(t, upheld.GetUpheld())
	s, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(t, err)
	require.Equal(t, upheld.GetNewCertificate(), s.GetCertificate())
	require.Equal(t, "18.4", s.GetReadings()[0].GetReportedValue())
	require.Equal(t, "users/tech2", s.GetReadings()[0].GetAnalyst())
}

func TestAppealsAreListed(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	var opened []string
	for _, body := range []string{"7KQ2XN01", "7KQ2XN02", "7KQ2XN03"} {
		sample := l.draw(body)
		l.measure(sample, "19.4", "42", "46", "38")
		l.clock.Advance(time.Minute)
		a, err := l.open(l.certify(sample, "").GetName(), gradingv1.AppealStage_APPEAL_STAGE_RETEST)
		require.NoError(t, err)
		opened = append(opened, a.GetName())
	}
	first, err := l.office().ListAppeals(t.Context(), &gradingv1.ListAppealsRequest{PageSize: 2})
	require.NoError(t, err)
	rest, err := l.office().ListAppeals(t.Context(), &gradingv1.ListAppealsRequest{PageSize: 2, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	var got []string
	for _, a := range append(first.GetAppeals(), rest.GetAppeals()...) {
		got = append([]string{a.GetName()}, got...)
	}
	require.Equal(t, opened, got)
	require.Empty(t, rest.GetNextPageToken())
	one, err := l.office().GetAppeal(t.Context(), &gradingv1.GetAppealRequest{Name: opened[0]})
	require.NoError(t, err)
	require.Equal(t, "users/office1", one.GetOpener())
	for _, name := range []string{"appeals/1", "appeals/5d0c1b1e-77aa-4c11-9d0e-0b4442aa4242"} {
		_, err = l.office().GetAppeal(t.Context(), &gradingv1.GetAppealRequest{Name: name})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": name})
	}
}
