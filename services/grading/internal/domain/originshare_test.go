package domain_test

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

// The tolerance was read; that it is 5 % of the share and not 5 points is from memory (75 % sure).
func TestOriginShareWorkedExample(t *testing.T) {
	t.Parallel()
	row := published.Where(published.Where(published.Load(t, "worked_examples.csv"), "area", "label"), "quantity", "EU blend")[0]
	in := regexp.MustCompile(`traceable ([\d.]+) %, printed ([\d.]+) %`).FindStringSubmatch(row.Text("inputs"))
	require.NotNil(t, in, "%s", row)
	want := regexp.MustCompile(`within ([\d.]+)-([\d.]+) -> allowed`).FindStringSubmatch(row.Text("expected"))
	require.NotNil(t, want, "%s", row)
	v, err := domain.JudgeOriginShare(in[1], in[2])
	require.NoError(t, err)
	require.True(t, v.Allowed, "%s", row)
	require.Equal(t, want[1:], []string{v.Low, v.High}, "%s", row)
	require.Equal(t, "47.5 % by the records is within 47.5 to 52.5 %, which is the printed 50.0 % and 5 % of it either way.", v.Text)
	for traced, allowed := range map[string]bool{"47.49": false, "47.5": true, "52.5": true, "52.51": false} {
		v, err := domain.JudgeOriginShare(traced, in[2])
		require.NoError(t, err)
		require.Equal(t, allowed, v.Allowed, traced)
	}
	for _, wrong := range [][2]string{{"", "50"}, {"50", "100.01"}, {"-1", "50"}, {"50.001", "50"}} {
		_, err := domain.JudgeOriginShare(wrong[0], wrong[1])
		require.Error(t, err, wrong)
	}
}
