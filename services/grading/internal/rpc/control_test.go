package rpc_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/rpctest"
)

const percent = gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT

func (l *lab) control() *gradingv1.Control {
	l.t.Helper()
	c, err := l.lead.CreateControl(l.t.Context(), &gradingv1.CreateControlRequest{
		RequestId: id(), ControlId: "CH-2026-1", Factor: gradingv1.Factor_FACTOR_MOISTURE, Material: "control honey, clover",
		Target: "17.5", Sigma: "0.1", RunCount: 24,
	})
	require.NoError(l.t, err)
	return c
}

func (l *lab) run(raw string) *gradingv1.ControlRun {
	l.t.Helper()
	r, err := l.second.RecordControlRun(l.t.Context(), &gradingv1.RecordControlRunRequest{
		RequestId: id(), Control: "controls/CH-2026-1", Kind: percent, RawValue: raw, Instrument: "RF-2",
	})
	require.NoError(l.t, err)
	return r
}

func (l *lab) state(sample string) gradingv1.SampleState {
	l.t.Helper()
	s, err := l.tech.GetSample(l.t.Context(), &gradingv1.GetSampleRequest{Name: sample})
	require.NoError(l.t, err)
	return s.GetState()
}

// lastFact is the newest fact of a type.
func lastFact[M proto.Message](l *lab, into M) M {
	l.t.Helper()
	require.NoError(l.t, feed.Number(l.t.Context(), l.db.Pool()))
	var payload []byte
	err := l.db.Pool().QueryRow(l.t.Context(), `SELECT payload FROM event WHERE type = $1 ORDER BY sequence DESC LIMIT 1`,
		string(into.ProtoReflect().Descriptor().FullName())).Scan(&payload)
	require.NoError(l.t, err)
	require.NoError(l.t, proto.Unmarshal(payload, into))
	return into
}

// Bad day: at 15:00 the control reads 17.9 against 17.5 ± 0.2. Everything since the last passing run goes back to pending,
// and nothing is measured or released until a control passes.
func TestAFailedControlReturnsResultsToPending(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	c := l.control()
	require.Equal(t, []string{"17.3", "17.7", "17.2", "17.8"}, []string{c.GetWarningLow(), c.GetWarningHigh(), c.GetActionLow(), c.GetActionHigh()})
	early, certified, measured, waiting := l.draw("7KQ2XN01"), l.draw("7KQ2XN02"), l.draw("7KQ2XN03"), l.draw("7KQ2XN04")
	l.measure(early, "17.4", "42", "46", "38")
	l.certify(early, "")
	l.clock.Advance(time.Minute)
	require.Equal(t, gradingv1.ControlVerdict_CONTROL_VERDICT_PASS, l.run("17.6").GetVerdict())
	l.clock.Advance(time.Minute)
	l.measure(certified, "17.4", "42", "46", "38")
	doubtful := l.certify(certified, "")
	l.clock.Advance(time.Minute)
	l.measure(measured, "18.2", "42", "46", "38")
	l.read(l.tech, waiting, gradingv1.ReadingKind_READING_KIND_PFUND_MM, "42", "")
	l.clock.Advance(time.Hour)

	failed := l.run("17.9")
	require.Equal(t, gradingv1.ControlVerdict_CONTROL_VERDICT_FAIL, failed.GetVerdict())
	require.Equal(t, "Control CH-2026-1 reads 17.9 % against 17.5 ± 0.2 %: more than 3 standard deviations off.", failed.GetExplanation())
	require.Equal(t, int32(2), failed.GetResultsInDoubt())
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_CERTIFIED, l.state(early), "before the last pass")
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_PENDING, l.state(certified))
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_PENDING, l.state(measured))
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_WAITING, l.state(waiting), "its water was not measured")
	told := lastFact(l, &gradingv1.ResultsReturnedToPending{})
	require.Equal(t, []string{doubtful.GetName()}, told.GetResults().GetCertificates())
	require.Equal(t, []string{certified, measured}, told.GetResults().GetSamples())
	require.Len(t, told.GetResults().GetReadings(), 2)
	require.Equal(t, failed.GetName(), told.GetResults().GetControlRun())
	require.Equal(t, failed.GetName(), lastFact(l, &gradingv1.BenchClosed{}).GetRun().GetName())
	shown, err := l.lead.ListCertificates(t.Context(), &gradingv1.ListCertificatesRequest{})
	require.NoError(t, err)
	require.True(t, shown.GetCertificates()[0].GetInDoubt())
	require.False(t, shown.GetCertificates()[1].GetInDoubt(), "before the last pass")

	closed := map[string]string{"resource": "controls/CH-2026-1", "state": "FAILED", "factor": "MOISTURE", "control_run": failed.GetName()}
	_, err = l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: measured})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, closed)
	reread := &gradingv1.RecordReadingRequest{RequestId: id(), Sample: measured, Kind: percent, RawValue: "17.9", Reason: "control failed"}
	_, err = l.tech.RecordReading(t.Context(), reread)
	d := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, closed)
	require.Contains(t, d.Message, "the bench is closed for water since control CH-2026-1 failed")
	l.read(l.tech, waiting, gradingv1.ReadingKind_READING_KIND_FLAVOR, "46", "")

	require.Equal(t, gradingv1.ControlVerdict_CONTROL_VERDICT_PASS, l.run("17.5").GetVerdict())
	require.Equal(t, gradingv1.Factor_FACTOR_MOISTURE, lastFact(l, &gradingv1.BenchOpened{}).GetFactor())
	_, err = l.lead.IssueCertificate(t.Context(), &gradingv1.IssueCertificateRequest{RequestId: id(), Sample: measured})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": measured, "state": "PENDING"})
	_, err = l.tech.RecordReading(t.Context(), reread)
	require.NoError(t, err)
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_MEASURED, l.state(measured))
	require.Equal(t, "17.9", l.certify(measured, "").GetDecision().GetMoisturePercent())
	l.read(l.tech, certified, percent, "17.5", "control failed")
	require.Equal(t, doubtful.GetName(), l.certify(certified, "control failed, measured again").GetSupersedes())
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_CERTIFIED, l.state(certified))
}

func TestDoubtIsTakenOffBySomebodyElse(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	l.control()
	sample := l.draw("7KQ2XN4T")
	l.clock.Advance(time.Minute)
	l.measure(sample, "17.4", "42", "46", "38")
	failed := l.run("18.4")
	confirm := func(who gradingv1.GradingServiceClient) (*gradingv1.DoubtedResults, error) {
		return who.ConfirmResults(t.Context(), &gradingv1.ConfirmResultsRequest{
			RequestId: id(), ControlRun: failed.GetName(), Reason: "the control jar had fermented",
		})
	}
	for _, involved := range []string{"tech1", "tech2"} {
		_, err := confirm(l.as(involved, accessv1.Role_ROLE_LAB_LEAD))
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/" + involved})
	}
	results, err := confirm(l.lead)
	require.NoError(t, err)
	require.Equal(t, []string{sample}, results.GetSamples())
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_MEASURED, l.state(sample))
	require.Equal(t, "the control jar had fermented", lastFact(l, &gradingv1.ResultsConfirmed{}).GetReason())
	_, err = confirm(l.lead)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": failed.GetName()})
	_, err = l.lead.ConfirmResults(t.Context(), &gradingv1.ConfirmResultsRequest{RequestId: id(), ControlRun: "controlRuns/1", Reason: "x"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

func TestControlChartInPages(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	require.Nil(t, l.control().GetDueTime(), "nothing is due before a first run")
	for i := range 7 {
		last := l.run(fmt.Sprintf("17.5%d", 1+i))
		if i < 6 {
			require.NotEqual(t, gradingv1.ControlVerdict_CONTROL_VERDICT_FAIL, last.GetVerdict())
			continue
		}
		require.Equal(t, gradingv1.ControlVerdict_CONTROL_VERDICT_FAIL, last.GetVerdict(), "seven on one side")
	}
	list, err := l.tech.ListControls(t.Context(), &gradingv1.ListControlsRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetControls(), 1)
	require.Equal(t, "17.57", list.GetControls()[0].GetLastRun().GetValue())
	require.Equal(t, morning.Add(4*time.Hour), list.GetControls()[0].GetDueTime().AsTime())
	first, err := l.tech.ListControlRuns(t.Context(), &gradingv1.ListControlRunsRequest{Control: "controls/CH-2026-1", PageSize: 5})
	require.NoError(t, err)
	require.Equal(t, first.GetRuns()[0].GetName(), list.GetControls()[0].GetClosedBy())
	require.Equal(t, "17.57", first.GetRuns()[0].GetValue())
	rest, err := l.tech.ListControlRuns(t.Context(), &gradingv1.ListControlRunsRequest{
		Control: "controls/CH-2026-1", PageSize: 5, PageToken: first.GetNextPageToken(),
	})
	require.NoError(t, err)
	require.Len(t, rest.GetRuns(), 2)
	require.Empty(t, rest.GetNextPageToken())
	_, err = l.tech.ListControlRuns(t.Context(), &gradingv1.ListControlRunsRequest{Control: "controls/CH-0"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "controls/CH-0"})
	_, err = l.lead.CreateControl(t.Context(), &gradingv1.CreateControlRequest{
		RequestId: id(), ControlId: "CH-2026-1", Factor: gradingv1.Factor_FACTOR_COLOR, Material: "glycerol", Target: "0", Sigma: "0.5", Certificate: "G-1",
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "controls/CH-2026-1"})
	_, err = l.tech.RecordControlRun(t.Context(), &gradingv1.RecordControlRunRequest{
		RequestId: id(), Control: "controls/CH-2026-1", Kind: gradingv1.ReadingKind_READING_KIND_PFUND_MM, RawValue: "42",
	})
	rpctest.Faults(t, err, "kind")
}

// However readings and a failing control race, each reading is either in doubt afterwards or was refused.
func TestNoReadingSlipsPastAFailingControl(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	l.control()
	const jars = 12
	samples := make([]string, jars)
	for i := range samples {
		samples[i] = l.draw(fmt.Sprintf("7KQ2XN%02d", i))
	}
	var wait sync.WaitGroup
	errs := make([]error, jars)
	for i := range samples {
		wait.Add(1)
		go func() {
			defer wait.Done()
			_, errs[i] = l.tech.RecordReading(t.Context(), &gradingv1.RecordReadingRequest{RequestId: id(), Sample: samples[i], Kind: percent, RawValue: "17.4"})
		}()
	}
	failed := l.run("18.4")
	wait.Wait()
	recorded := 0
	for i, err := range errs {
		if err != nil {
			rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"control_run": failed.GetName()})
			continue
		}
		recorded++
		require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_PENDING, l.state(samples[i]))
	}
	require.Equal(t, int32(recorded), failed.GetResultsInDoubt())
}
