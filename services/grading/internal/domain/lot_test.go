package domain_test

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
)

func whole(t testing.TB, s string) int64 {
	t.Helper()
	n, err := strconv.ParseInt(s, 10, 64)
	require.NoError(t, err)
	return n
}

func TestLotPlansAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	rows := published.Load(t, "lot_sampling.csv")
	checked := 0
	for _, plan := range []string{"AMS lot plan", "7 CFR 52.38(a)"} {
		for _, row := range published.Where(rows, "plan", plan) {
			n, most := whole(t, row.Text("sample_size")), whole(t, row.Text("acceptance_number"))
			at, err := domain.JudgeLot(n, most)
			require.NoError(t, err)
			require.True(t, at.Accepted, "%s", row)
			over, err := domain.JudgeLot(n, most+1)
			require.NoError(t, err)
			require.False(t, over.Accepted, "%s", row)
			checked++
		}
	}
	require.Equal(t, 8, checked)
}

func TestLotWorkedExamples(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "worked_examples.csv"), "quantity", "lot accept")
	for _, row := range rows {
		m := regexp.MustCompile(`n=(\d+), deviants (\d+)`).FindStringSubmatch(row.Text("inputs"))
		v, err := domain.JudgeLot(whole(t, m[1]), whole(t, m[2]))
		require.NoError(t, err)
		require.Equal(t, strings.HasPrefix(row.Text("expected"), "accept"), v.Accepted, "%s", row)
	}
	require.Len(t, rows, 2)
	v, err := domain.JudgeLot(13, 3)
	require.NoError(t, err)
	require.Equal(t, "3 of 13 units are below grade, more than the 2 allowed, so the lot is rejected.", v.Text)
	_, err = domain.JudgeLot(5, 6)
	require.ErrorContains(t, err, "no published plan for 5 units: sample 3, 6, 13")
	require.ErrorContains(t, err, "6 of 5 units")
}

// Wisconsin's floor of 11 lb 8 oz a gallon is 1.3780 g/mL, 8.345404 lb/gal being 1 g/mL.
func TestWisconsinDensityFloor(t *testing.T) {
	t.Parallel()
	row := published.Where(published.Load(t, "worked_examples.csv"), "quantity", "density floor")[0]
	perML, err := quantity.MulDiv(11_5000, 1_000_000, 8_345_404)
	require.NoError(t, err)
	text := quantity.FormatFixed(perML, 4, 4) + " g/mL"
	require.Equal(t, row.Text("expected"), text, "%s", row)
	require.Contains(t, standard(t, "wisconsin-honey").Limits()[0].Text(), text)
	require.Equal(t, "NO_2", judgeBy(t, "wisconsin-honey", "", nil, map[domain.Factor]string{domain.Density: "11.5"}).Grade)
	require.Equal(t, "BELOW", judgeBy(t, "wisconsin-honey", "", nil, map[domain.Factor]string{domain.Density: "11.49"}).Grade)
	require.Equal(t, "BELOW", judgeBy(t, "wisconsin-honey", "", nil, map[domain.Factor]string{domain.Honeydew: "20.1"}).Grade)
}
