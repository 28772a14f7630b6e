package domain_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

func derived(t testing.TB, moisture, yeast, glucose, fructose string) map[string]domain.DerivedFact {
	t.Helper()
	c, err := domain.ParseComposition(domain.CompositionText{Moisture: moisture, Yeast: yeast, Glucose: glucose, Fructose: fructose})
	require.NoError(t, err)
	facts := map[string]domain.DerivedFact{}
	for _, f := range c.Derive() {
		require.NotEmpty(t, f.Source, f.ID)
		require.NotEmpty(t, f.Provenance, f.ID)
		require.NotEmpty(t, f.Limits, f.ID)
		facts[f.ID] = f
	}
	return facts
}

func TestDensityIsThePublishedOne(t *testing.T) {
	t.Parallel()
	checked := 0
	for _, row := range published.Where(published.Load(t, "density.csv"), "source", "White 1975") {
		// Specific gravity from memory (about 85 % sure), the rest computed from it.
		f := derived(t, row.Text("moisture_pct"), "", "", "")["density"]
		require.InDelta(t, float(t, row.Text("lb_per_US_gal")), float(t, strings.TrimSuffix(f.Value, " lb/gal")), 0.001, "%s", row)
		require.Contains(t, f.Text, row.Text("specific_gravity_20_20"))
		checked++
	}
	require.Equal(t, 9, checked)
	example := published.Where(published.Load(t, "worked_examples.csv"), "quantity", "lb per gal")[0]
	f := derived(t, "18.0", "", "", "")["density"]
	require.InDelta(t, float(t, example.Text("expected")), float(t, strings.TrimSuffix(f.Value, " lb/gal")), float(t, example.Text("tolerance")), "%s", example)
	require.NotContains(t, derived(t, "12.9", "", "", ""), "density", "outside the table")
	require.NotContains(t, derived(t, "21.1", "", "", ""), "density", "outside the table")
}

func TestSolidsAreTheRest(t *testing.T) {
	t.Parallel()
	for _, row := range published.Load(t, "refractive_index.csv") {
		require.Equal(t, row.Text("soluble_solids_pct")+" %", derived(t, row.Text("moisture_pct"), "", "", "")["soluble_solids"].Value)
	}
}

var fermenting = regexp.MustCompile(`moisture ([\d.]+), yeast (\d+)/g`)

func TestFermentationExamples(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "worked_examples.csv"), "area", "fermentation")
	for _, row := range rows {
		m := fermenting.FindStringSubmatch(row.Text("inputs"))
		require.NotNil(t, m, "%s", row)
		want := map[string]string{"safe": "SAFE", "at risk": "AT_RISK"}[row.Text("expected")]
		require.Equal(t, want, derived(t, m[1], m[2], "", "")["fermentation"].Value, "%s", row)
	}
	require.Len(t, rows, 4)
}

func TestFermentationBandsHaveNoGap(t *testing.T) {
	t.Parallel()
	for _, row := range published.Load(t, "fermentation.csv") {
		most := row.Text("yeast_max_per_g_for_safety")
		if to := row.Text("moisture_to_pct"); to != "" && to != "17.1" {
			require.Equal(t, "DEPENDS", derived(t, to, "", "", "")["fermentation"].Value, "%s", row)
			count := most
			if most == "1" {
				count = "0" // safe only under one
			}
			require.Equal(t, "SAFE", derived(t, to, count, "", "")["fermentation"].Value, "%s", row)
			require.Equal(t, "AT_RISK", derived(t, to, most+"1", "", "")["fermentation"].Value, "%s", row)
		}
	}
	for moisture, want := range map[string]string{
		"17.0999": "SAFE", "17.1": "DEPENDS", "18.0": "DEPENDS", "18.0001": "DEPENDS", "19.0001": "DEPENDS", "20.0": "DEPENDS", "20.0001": "AT_RISK", "25": "AT_RISK",
	} {
		require.Equal(t, want, derived(t, moisture, "", "", "")["fermentation"].Value, moisture)
	}
	require.Equal(t, "18.0 % water with 1001 yeasts a gram is at risk of fermenting: it can bear at most 1000 yeasts a gram.", derived(t, "18.0", "1001", "", "")["fermentation"].Text)
	require.Equal(t, "18.0001 % water with 11 yeasts a gram is at risk of fermenting: it can bear at most 10 yeasts a gram.", derived(t, "18.0001", "11", "", "")["fermentation"].Text)
}

func TestGranulation(t *testing.T) {
	t.Parallel()
	rows := published.Load(t, "granulation.csv")
	require.Contains(t, published.Where(rows, "index", "glucose/water")[1].Text("threshold"), "above 2.1")
	require.Contains(t, published.Where(rows, "index", "(glucose-water)/fructose")[0].Text("threshold"), "above 0.42")
	for _, c := range []struct{ water, glucose, want string }{
		{"18.0", "30.5", "STAYS_LIQUID"}, {"18.0", "30.6", "UNCERTAIN"}, {"18.0", "37.8", "UNCERTAIN"}, {"18.0", "37.9", "GRANULATES"},
	} {
		require.Equal(t, c.want, derived(t, c.water, "", c.glucose, "")["granulation"].Value, "%v", c)
	}
	require.Equal(t, "GRANULATES", derived(t, "17.0", "", "33.9", "40")["granulation_by_fructose"].Value)
	require.Equal(t, "UNCERTAIN", derived(t, "17.0", "", "33.8", "40")["granulation_by_fructose"].Value)
	require.NotContains(t, derived(t, "17.0", "", "", "40"), "granulation")
}

func TestWhatFactsCannotBeDerivedFrom(t *testing.T) {
	t.Parallel()
	_, err := domain.ParseComposition(domain.CompositionText{Yeast: "-1", Glucose: "x", Fructose: "120"})
	for _, part := range []string{"moisture_percent is missing", "cannot be negative", `glucose_percent: "x"`, "120.0 %"} {
		require.ErrorContains(t, err, part)
	}
	_, err = domain.ParseComposition(domain.CompositionText{Moisture: "1.79", Yeast: "1.5"})
	require.ErrorContains(t, err, "outside 12.0 to 25.0")
	require.ErrorContains(t, err, "yeast_per_g")
}
