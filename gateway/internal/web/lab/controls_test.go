package lab

import (
	"testing"

	"github.com/stretchr/testify/require"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

func TestChart_DrawsRunsBetweenTheirLimits(t *testing.T) {
	t.Parallel()
	control := &gradingv1.Control{Target: "17.5", WarningLow: "17.3", WarningHigh: "17.7", ActionLow: "17.2", ActionHigh: "17.8"}
	run := func(value string, verdict gradingv1.ControlVerdict) *gradingv1.ControlRun {
		return &gradingv1.ControlRun{Value: value, Verdict: verdict}
	}
	c := drawChart(control, []*gradingv1.ControlRun{
		run("18.4", gradingv1.ControlVerdict_CONTROL_VERDICT_FAIL), run("17.5", gradingv1.ControlVerdict_CONTROL_VERDICT_PASS), run("17.2", gradingv1.ControlVerdict_CONTROL_VERDICT_WARNING),
	})
	require.Equal(t, int64(chartTop+chartHeight/2), c.Target.Y)
	require.Equal(t, []string{"17.2", "17.5", "18.4"}, []string{c.Points[0].Value, c.Points[1].Value, c.Points[2].Value}, "oldest left")
	require.Equal(t, c.Target.Y, c.Points[1].Y)
	require.Equal(t, c.Actions[0].Y, c.Points[0].Y, "on the line is on the line")
	require.Equal(t, int64(chartTop), c.Points[2].Y, "what is far out stands at the edge")
	require.Equal(t, "fail", c.Points[2].Class)
	require.Greater(t, c.Actions[0].Y, c.Warnings[0].Y)
	require.Equal(t, "M96 195L122 120L148 20", c.Path)
	require.Nil(t, drawChart(&gradingv1.Control{}, nil))
	require.Empty(t, drawChart(control, nil).Path)
}

func TestLooked_AtOneOrInAList(t *testing.T) {
	t.Parallel()
	require.Equal(t, "in a list", looked("ListCertificates"))
	require.Equal(t, "opened", looked("GetCertificate"))
}
