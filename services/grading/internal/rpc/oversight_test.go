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

func (l *lab) bringControl(name string) {
	l.t.Helper()
	_, err := l.lead.CreateControl(l.t.Context(), &gradingv1.CreateControlRequest{
		RequestId: id(), ControlId: name, Factor: gradingv1.Factor_FACTOR_MOISTURE, Material: "control honey, clover", Target: "17.5", Sigma: "0.1", RunCount: 20,
	})
	require.NoError(l.t, err)
}

func (l *lab) runOn(who gradingv1.GradingServiceClient, control, raw, instrument string) (*gradingv1.ControlRun, error) {
	l.t.Helper()
	return who.RecordControlRun(l.t.Context(), &gradingv1.RecordControlRunRequest{RequestId: id(), Control: "controls/" + control, Kind: percent, RawValue: raw, Instrument: instrument})
}

func (l *lab) retire(control string) (*gradingv1.Control, error) {
	l.t.Helper()
	return l.lead.RetireControl(l.t.Context(), &gradingv1.RetireControlRequest{RequestId: id(), Control: "controls/" + control, Reason: "jar used up"})
}

func TestAControlIsRetired(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	l.bringControl("CH-1")
	l.bringControl("CH-2")
	_, err := l.runOn(l.tech, "CH-1", "17.9", "RF-2")
	require.NoError(t, err)
	_, err = l.retire("CH-1")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": "controls/CH-1", "state": "FAIL"})
	_, err = l.runOn(l.tech, "CH-2", "17.5", "RF-2")
	require.NoError(t, err, "another control opens the bench")
	gone, err := l.retire("CH-1")
	require.NoError(t, err)
	require.Equal(t, "users/lead1", gone.GetRetirer())
	require.Equal(t, "jar used up", gone.GetRetireReason())
	_, err = l.retire("CH-1")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": "controls/CH-1", "state": "RETIRED"})
	_, err = l.runOn(l.tech, "CH-1", "17.5", "RF-2")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": "controls/CH-1", "state": "RETIRED"})
	_, err = l.retire("CH-9")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "controls/CH-9"})
	list, err := l.tech.ListControls(t.Context(), &gradingv1.ListControlsRequest{})
	require.NoError(t, err)
	require.NotNil(t, list.GetControls()[0].GetRetireTime())
	require.NotNil(t, list.GetControls()[0].GetLastRun(), "its chart stays")
	require.Nil(t, list.GetControls()[0].GetDueTime(), "it is not due any more")
	require.NotNil(t, list.GetControls()[1].GetDueTime())
}

func TestBiasIsReportedByDay(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	l.bringControl("CH-1")
	for _, raw := range []string{"17.64", "17.66", "17.65"} {
		_, err := l.runOn(l.tech, "CH-1", raw, "RF-2")
		require.NoError(t, err)
	}
	l.clock.Advance(24 * time.Hour)
	_, err := l.runOn(l.tech, "CH-1", "17.65", "RF-2")
	require.NoError(t, err)
	sample := l.draw("7KQ2XN4T")
	jar, err := l.lead.CreateDuplicate(t.Context(), &gradingv1.CreateDuplicateRequest{RequestId: id(), Original: sample})
	require.NoError(t, err)
	l.read(l.tech, sample, gradingv1.ReadingKind_READING_KIND_PFUND_MM, "42", "")
	l.read(l.second, jar.GetSample(), gradingv1.ReadingKind_READING_KIND_PFUND_MM, "40.5", "")
	report := func(from, to string) []*gradingv1.BiasLine {
		r, err := l.lead.ReportBias(t.Context(), &gradingv1.ReportBiasRequest{FromDate: from, ToDate: to})
		require.NoError(t, err)
		return r.GetLines()
	}
	all := report("", "")
	require.Len(t, all, 3)
	require.Equal(t, []string{"users/tech1", "RF-2", "0.15", "1.50", "0.00"},
		[]string{all[0].GetAnalyst(), all[0].GetInstrument(), all[0].GetControlBias(), all[0].GetControlBiasSigmas(), all[0].GetControlDriftSigmas()})
	require.Equal(t, int32(4), all[0].GetControlRunCount())
	require.True(t, all[0].GetAttention(), all[0].GetExplanation())
	require.Equal(t, []string{"1.5", "-1.5"}, []string{all[1].GetDuplicateBias(), all[2].GetDuplicateBias()})
	require.False(t, all[1].GetAttention(), "half of what two jars may differ")
	require.Equal(t, int32(3), report("2026-09-14", "2026-09-14")[0].GetControlRunCount())
	require.Empty(t, report("2026-09-16", ""))
	_, err = l.lead.ReportBias(t.Context(), &gradingv1.ReportBiasRequest{FromDate: "2026-09-15", ToDate: "2026-09-14"})
	rpctest.Faults(t, err, "to_date")
	_, err = l.lead.ReportBias(t.Context(), &gradingv1.ReportBiasRequest{FromDate: "2026-02-30"})
	rpctest.Faults(t, err, "from_date")
}

func TestWhoLookedAtWhatIsLogged(t *testing.T) {
	t.Parallel()
	l := newLab(t)
	a, b := l.draw("7KQ2XN01"), l.draw("7KQ2XN02")
	l.measure(a, "17.4", "42", "46", "38")
	c := l.certify(a, "")
	_, err := l.tech.GetSample(t.Context(), &gradingv1.GetSampleRequest{Name: a})
	require.NoError(t, err)
	_, err = l.second.ListSamples(t.Context(), &gradingv1.ListSamplesRequest{})
	require.NoError(t, err)
	_, err = l.as("office1", accessv1.Role_ROLE_OFFICE).GetCertificate(t.Context(), &gradingv1.GetCertificateRequest{Name: c.GetName()})
	require.NoError(t, err)
	_, err = l.lead.ListCertificates(t.Context(), &gradingv1.ListCertificatesRequest{})
	require.NoError(t, err)
	views := func(req *gradingv1.ListViewsRequest) (out [][3]string) {
		for {
			page, err := l.lead.ListViews(t.Context(), req)
			require.NoError(t, err)
			for _, v := range page.GetViews() {
				require.Equal(t, morning, v.GetViewTime().AsTime())
				out = append(out, [3]string{v.GetViewer(), v.GetMethod(), v.GetResource()})
			}
			if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
				return out
			}
		}
	}
	want := [][3]string{
		{"users/lead1", "ListCertificates", c.GetName()},
		{"users/office1", "GetCertificate", c.GetName()},
		{"users/tech2", "ListSamples", b},
		{"users/tech2", "ListSamples", a},
		{"users/tech1", "GetSample", a},
	}
	require.Equal(t, want, views(&gradingv1.ListViewsRequest{PageSize: 2}))
	require.Equal(t, [][3]string{want[3], want[4]}, views(&gradingv1.ListViewsRequest{Resource: a}))
	require.Equal(t, want[2:4], views(&gradingv1.ListViewsRequest{Viewer: "users/tech2"}))
}
