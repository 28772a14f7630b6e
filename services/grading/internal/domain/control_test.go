package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

func controlHoney(t testing.TB) domain.Control {
	t.Helper()
	c, err := domain.NewControl(domain.Control{ID: "CH-2026-1", Factor: domain.Moisture, Material: "control honey"}, "17.5", "0.1", "", 20)
	require.NoError(t, err)
	return c
}

// series runs a control one reading after the other and returns the verdicts.
func series(t testing.TB, c domain.Control, raw ...string) []domain.Verdict {
	t.Helper()
	var before []domain.ControlRun
	var verdicts []domain.Verdict
	for _, r := range raw {
		run, err := c.Run(domain.ControlRun{Control: c.ID, Kind: domain.MoisturePercent, RawValue: r}, before)
		require.NoError(t, err)
		before = append([]domain.ControlRun{run}, before...)
		verdicts = append(verdicts, run.Verdict)
	}
	return verdicts
}

func TestControlChart(t *testing.T) {
	t.Parallel()
	const pass, warning, fail = domain.Pass, domain.Warning, domain.Fail
	for name, c := range map[string]struct {
		raw  []string
		want []domain.Verdict
	}{
		"in control":             {[]string{"17.6", "17.4", "17.5"}, []domain.Verdict{pass, pass, pass}},
		"on the warning limit":   {[]string{"17.7"}, []domain.Verdict{pass}},
		"on the action limit":    {[]string{"17.8"}, []domain.Verdict{warning}},
		"beyond the action":      {[]string{"17.81"}, []domain.Verdict{fail}},
		"far below":              {[]string{"17.1"}, []domain.Verdict{fail}},
		"two warnings, one side": {[]string{"17.75", "17.75"}, []domain.Verdict{warning, fail}},
		"two warnings, opposite": {[]string{"17.75", "17.25"}, []domain.Verdict{warning, warning}},
		"a pass between":         {[]string{"17.75", "17.6", "17.75"}, []domain.Verdict{warning, pass, warning}},
		"seven on one side": {
			[]string{"17.55", "17.6", "17.55", "17.6", "17.55", "17.6", "17.55"},
			[]domain.Verdict{pass, pass, pass, pass, pass, pass, fail},
		},
		"six and the target": {
			[]string{"17.55", "17.6", "17.55", "17.6", "17.55", "17.6", "17.5"},
			[]domain.Verdict{pass, pass, pass, pass, pass, pass, pass},
		},
		"a failure ends the row": {[]string{"17.75", "17.75", "17.75"}, []domain.Verdict{warning, fail, warning}},
	} {
		require.Equal(t, c.want, series(t, controlHoney(t), c.raw...), name)
	}
}

func TestControlExplainsItself(t *testing.T) {
	t.Parallel()
	c := controlHoney(t)
	run, err := c.Run(domain.ControlRun{Kind: domain.MoisturePercent, RawValue: "17.9"}, nil)
	require.NoError(t, err)
	require.Equal(t, "Control CH-2026-1 reads 17.9 % against 17.5 ± 0.2 %: more than 3 standard deviations off.", run.Explanation)
	_, err = c.Run(domain.ControlRun{Kind: domain.PfundMM, RawValue: "42"}, nil)
	require.ErrorContains(t, err, "is a control of water")
	_, err = c.Run(domain.ControlRun{Kind: domain.MoisturePercent, RawValue: "1.75"}, nil)
	require.ErrorContains(t, err, "outside 12.0 to 25.0")
}

func TestControlsThatCannotBe(t *testing.T) {
	t.Parallel()
	_, err := domain.NewControl(domain.Control{ID: "ch", Factor: domain.Moisture}, "1.75", "0", "", 19)
	for _, part := range []string{"control_id must be", "1.75 % water is outside", "sigma must be more than 0", "19 runs are too few"} {
		require.ErrorContains(t, err, part)
	}
	_, err = domain.NewControl(domain.Control{ID: "CH-1", Factor: domain.Total}, "90", "1", "", 20)
	require.ErrorContains(t, err, "must be one that is measured")
	bought, err := domain.NewControl(domain.Control{ID: "RL-1490", Factor: domain.Moisture}, "18.6", "0.05", "RL-1490/26", 0)
	require.NoError(t, err)
	require.Equal(t, "certificate RL-1490/26", bought.Basis)
}

func TestADoubtedReadingIsNotReleased(t *testing.T) {
	t.Parallel()
	r := release(t)
	r.Doubted = func(d domain.Reading) bool { return d.Factor == domain.Moisture }
	_, err := r.Decide(house())
	var state *domain.StateError
	require.ErrorAs(t, err, &state)
	require.Equal(t, "PENDING", state.Metadata()["state"])
	require.ErrorContains(t, err, "the reading of water in doubt")
}
