package domain_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

// classOf asks the house standard for the colour class of a number of millimetres.
func classOf(t testing.TB, mm string) string {
	t.Helper()
	q, err := domain.Ask(domain.Strained, map[domain.Factor]string{domain.Color: mm})
	require.NoError(t, err)
	d, err := house().Judge(&q)
	require.NoError(t, err)
	require.Empty(t, d.Grade, "colour is no factor of the grade")
	return d.ColorClass
}

func wireName(class string) string { return strings.ToUpper(strings.ReplaceAll(class, " ", "_")) }

func TestUSColorClassesAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "color_classes.csv"), "scheme", "US (USDA 1985)")
	require.Len(t, rows, 7)
	for _, row := range rows {
		class := wireName(row.Text("class"))
		if to := row.Text("to_mm_pfund"); to != "" {
			require.Equal(t, class, classOf(t, to), "the upper limit is included: %s", row)
			require.Equal(t, class, classOf(t, to+".04"), "reported as %s.0: %s", to, row)
			require.NotEqual(t, class, classOf(t, to+".05"), "reported as %s.1: %s", to, row)
		}
		over := row.Text("over_mm_pfund")
		if over == "" {
			over = "-0"
		} else {
			require.NotEqual(t, class, classOf(t, over), "the lower limit is not included: %s", row)
			over += ".1"
		}
		require.Equal(t, class, classOf(t, over), "%s", row)
	}
}

func TestColorWorkedExamples(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "worked_examples.csv"), "area", "colour")
	for _, row := range published.Where(rows, "quantity", "class") {
		require.Equal(t, wireName(row.Text("expected")), classOf(t, strings.TrimPrefix(row.Text("inputs"), "mm=")), "%s", row)
	}
	for _, row := range published.Where(rows, "quantity", "mm Pfund from A635") {
		m := measure(t, domain.Absorbance635, strings.TrimPrefix(row.Text("inputs"), "A635="), "")
		require.InDelta(t, float(t, row.Text("expected")), float64(m.Computed)/10_000, float(t, row.Text("tolerance")), "%s", row)
	}
}

// The class limits as absorbances, computed from the remembered relation.
func TestAbsorbanceAtTheClassLimits(t *testing.T) {
	t.Parallel()
	row := published.Where(published.Load(t, "color_formulas.csv"), "id", "PFPOS")[0]
	points := regexp.MustCompile(`(\d+) mm -> A=([\d.]+)`).FindAllStringSubmatch(row.Text("notes"), -1)
	require.Len(t, points, 6, "%s", row)
	for _, p := range points {
		m := measure(t, domain.Absorbance635, p[2], "")
		require.InDelta(t, float(t, p[1]), float64(m.Computed)/10_000, 0.02, "%s mm", p[1])
	}
}

func TestAbsorbanceIsClampedAtZero(t *testing.T) {
	t.Parallel()
	require.Contains(t, published.Load(t, "color_formulas.csv")[1].Text("formula"), "-38.70 + 371.39 * A635")
	for _, pale := range []string{"0", "0.05", "0.1042"} {
		m := measure(t, domain.Absorbance635, pale, "")
		require.Zero(t, m.Reported, pale)
	}
	require.Contains(t, measure(t, domain.Absorbance635, "0.1", "").Explanation, "counts as 0.0 mm")
	require.Equal(t, value(t, "0.1"), measure(t, domain.Absorbance635, "0.1044", "").Reported)
	require.Equal(t, value(t, "150.0"), measure(t, domain.Absorbance635, "0.508091", "").Reported)
}
