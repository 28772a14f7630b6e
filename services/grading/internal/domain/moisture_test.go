package domain_test

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

func value(t testing.TB, s string) domain.Value {
	t.Helper()
	v, err := domain.ParseValue(s)
	require.NoError(t, err)
	return v
}

func measure(t testing.TB, kind domain.Kind, raw, temperature string) domain.Measurement {
	t.Helper()
	m, err := domain.Measure(kind, raw, temperature)
	require.NoError(t, err)
	return m
}

func float(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// wedmore is the closed formula printed beside the table: W = (−0.26810 − log10(n − 1)) / 0.002243. The printed 1.73190 is
// a bar logarithm. It is a cross-check only: the table with straight lines is what grades.
func wedmore(index float64) float64 { return (-0.26810 - math.Log10(index-1)) / 0.002243 }

func TestMoistureTableRows(t *testing.T) {
	t.Parallel()
	rows := published.Load(t, "refractive_index.csv")
	require.Len(t, rows, 61)
	for _, row := range rows {
		m := measure(t, domain.RefractiveIndex, row.Text("ri_20C"), "")
		require.Equal(t, value(t, row.Text("moisture_pct")), m.Computed, "%s", row)
		require.Equal(t, m.Computed, m.Reported, "%s", row)
		require.Equal(t, domain.Moisture, m.Factor)
	}
}

// The table and the formula differ by at most 0.022 % water over all rows (computed from both).
func TestMoistureFormulaAgreesWithTable(t *testing.T) {
	t.Parallel()
	worst := 0.0
	for index := 14740; index <= 15044; index++ {
		raw := "1." + strconv.Itoa(index)[1:]
		table := float64(measure(t, domain.RefractiveIndex, raw, "").Computed) / 10_000
		worst = max(worst, math.Abs(table-wedmore(float(t, raw))))
	}
	for _, row := range published.Load(t, "refractive_index.csv") {
		require.InDelta(t, float(t, row.Text("moisture_pct")), wedmore(float(t, row.Text("ri_20C"))), 0.0221, "%s", row)
	}
	// Between rows a straight line adds a little to the 0.022 of the rows themselves.
	require.Less(t, worst, 0.035)
}

func TestMoistureWorkedExamples(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "worked_examples.csv"), "area", "moisture")
	byTable := published.Where(rows, "quantity", "moisture by")
	for _, row := range byTable {
		index := float(t, strings.TrimPrefix(row.Text("inputs"), "ri20="))
		want, within := float(t, row.Text("expected")), float(t, row.Text("tolerance"))
		if strings.Contains(row.Text("quantity"), "formula") {
			require.InDelta(t, want, wedmore(index), within, "%s", row)
			continue
		}
		m := measure(t, domain.RefractiveIndex, strconv.FormatFloat(index, 'f', -1, 64), "20.0")
		require.InDelta(t, want, float64(m.Computed)/10_000, within, "%s", row)
	}
	// 1.4903 at 15 °C is 1.48915 at 20 °C (computed from 0.00023 per °C).
	require.Contains(t, published.Where(rows, "quantity", "corrected RI")[0].Text("expected"), "1.48915")
	require.Contains(t, measure(t, domain.RefractiveIndex, "1.4903", "15").Explanation, "1.48915 at 20 °C")
	// A published example corrects 1.4820 at 32 °C to 1.48476 and takes the neighbouring row, 20.8 %; the straight line gives 20.70.
	warm := measure(t, domain.RefractiveIndex, "1.4820", "32.0")
	require.Contains(t, warm.Explanation, "1.48476 at 20 °C")
	require.InDelta(t, 20.70, float64(warm.Computed)/10_000, 0.01)
	require.Equal(t, value(t, "20.7"), warm.Reported)
}

// 0.00023 per °C, added above 20 °C and subtracted below (read in four texts).
func TestTemperatureCorrectionIsThePublishedOne(t *testing.T) {
	t.Parallel()
	row := published.Where(published.Load(t, "moisture_methods.csv"), "item", "temperature correction")[0]
	require.Equal(t, "0.00023", row.Text("value"), "%s", row)
	require.Contains(t, measure(t, domain.RefractiveIndex, "1.49", "21").Explanation, "1.49023 at 20 °C")
	require.Contains(t, measure(t, domain.RefractiveIndex, "1.49", "19").Explanation, "1.48977 at 20 °C")
	require.Contains(t, measure(t, domain.RefractiveIndex, "1.49", "20.01").Explanation, "1.4900023 at 20 °C")
}

// A reading is rounded once. 18.649… must not become 18.65 and then 18.7.
func TestReportedValueIsRoundedOnce(t *testing.T) {
	t.Parallel()
	for raw, want := range map[string]string{
		"18.65": "18.7", "18.64": "18.6", "18.6499": "18.6", "18.649999": "18.6", "18.650000": "18.7", "18.6": "18.6", "12": "12.0", "25": "25.0",
	} {
		require.Equal(t, value(t, want), measure(t, domain.MoisturePercent, raw, "").Reported, raw)
	}
	m := measure(t, domain.MoisturePercent, "18.65", "")
	require.Equal(t, "18.65 % water read directly, reported as 18.7 % (rounded once, half up).", m.Explanation)
}

func TestTemperatureMovesMoistureTheRightWay(t *testing.T) {
	t.Parallel()
	cold := measure(t, domain.RefractiveIndex, "1.4900", "15.0").Computed
	at20 := measure(t, domain.RefractiveIndex, "1.4900", "20.0").Computed
	warm := measure(t, domain.RefractiveIndex, "1.4900", "25.0").Computed
	require.Greater(t, cold, at20)
	require.Less(t, warm, at20)
	// About 0.09 % water per °C near 18 % (moisture_methods.csv, computed).
	require.InDelta(t, 0.45, float64(cold-at20)/10_000, 0.03)
}

func TestWhatNoInstrumentShowsIsRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		kind           domain.Kind
		raw, degrees   string
		low, high      string
		field, message string
	}{
		"decimal point slipped":    {domain.MoisturePercent, "1.79", "", "12.0", "25.0", "raw_value", "1.79 % water is outside 12.0 to 25.0 %"},
		"just too dry":             {domain.MoisturePercent, "11.999999", "", "12.0", "25.0", "raw_value", "11.999999 %"},
		"just too wet":             {domain.MoisturePercent, "25.000001", "", "12.0", "25.0", "raw_value", "25.000001 %"},
		"index of water":           {domain.RefractiveIndex, "1.3330", "", "1.4700", "1.5100", "raw_value", "1.3330"},
		"percent as index":         {domain.RefractiveIndex, "17.9", "", "1.4700", "1.5100", "raw_value", "17.9"},
		"drier than the table":     {domain.RefractiveIndex, "1.5045", "", "1.4740", "1.5044", "raw_value", "13.0 to 25.0 % water"},
		"wetter than the table":    {domain.RefractiveIndex, "1.4739", "", "1.4740", "1.5044", "raw_value", "1.4739"},
		"off the table by warmth":  {domain.RefractiveIndex, "1.5040", "25", "1.4740", "1.5044", "raw_value", "1.50515"},
		"too cold":                 {domain.RefractiveIndex, "1.4900", "9.99", "10.0", "40.0", "temperature_c", "9.99 °C"},
		"too warm":                 {domain.RefractiveIndex, "1.4900", "40.01", "10.0", "40.0", "temperature_c", "40.01 °C"},
		"thin syrup":               {domain.Brix, "65", "", "73.0", "85.0", "raw_value", "65 °Brix"},
		"negative colour":          {domain.PfundMM, "-0.1", "", "0.0", "150.0", "raw_value", "-0.1 mm"},
		"colour beyond the wedge":  {domain.PfundMM, "150.1", "", "0.0", "150.0", "raw_value", "150.1 mm"},
		"negative absorbance":      {domain.Absorbance635, "-0.001", "", "0", "0.508", "raw_value", "-0.001"},
		"absorbance off the scale": {domain.Absorbance635, "0.5081", "", "0", "0.508", "raw_value", "0.5081"},
		"flavour over 50":          {domain.FlavorPoints, "51", "", "0", "50", "raw_value", "51 points"},
		"defects over 40":          {domain.DefectsPoints, "41", "", "0", "40", "raw_value", "41 points"},
		"clarity over 10":          {domain.ClarityPoints, "10.000001", "", "0", "10", "raw_value", "10.000001"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := domain.Measure(c.kind, c.raw, c.degrees)
			var out *domain.OutOfRangeError
			require.ErrorAs(t, err, &out)
			require.Equal(t, map[string]string{"field": c.field, "low": c.low, "high": c.high}, out.Metadata())
			require.Contains(t, out.Error(), c.message)
			require.Equal(t, "OUT_OF_RANGE", out.Reason())
			require.Equal(t, c.field, out.Field())
		})
	}
}

func TestWhatCannotBeReadIsRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		kind                domain.Kind
		raw, degrees, field string
	}{
		"no number":                      {domain.MoisturePercent, "dry", "", "raw_value"},
		"empty":                          {domain.MoisturePercent, "", "", "raw_value"},
		"seven digits":                   {domain.RefractiveIndex, "1.4900001", "", "raw_value"},
		"half a point":                   {domain.FlavorPoints, "44.5", "", "raw_value"},
		"a sliver of a point":            {domain.DefectsPoints, "36.000001", "", "raw_value"},
		"temperature of a colour":        {domain.PfundMM, "42", "23", "temperature_c"},
		"temperature of Brix":            {domain.Brix, "80", "21.5", "temperature_c"},
		"temperature in too many digits": {domain.RefractiveIndex, "1.49", "20.001", "temperature_c"},
		"unknown method":                 {domain.Kind(99), "1", "", "kind"},
		"no method":                      {domain.Kind(0), "1", "", "kind"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := domain.Measure(c.kind, c.raw, c.degrees)
			var field *domain.FieldError
			require.ErrorAs(t, err, &field)
			require.Equal(t, c.field, field.Field())
		})
	}
}

// The sucrose scale is from memory; the honey scale printed beside it on refractometers puts 18.6 % water near 79.7 °Brix
// (common practice, no source).
func TestBrix(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 18.6, float64(measure(t, domain.Brix, "79.7", "").Computed)/10_000, 0.05)
	previous := measure(t, domain.Brix, "73.5", "").Computed
	for tenths := 736; tenths <= 850; tenths++ {
		raw := strconv.Itoa(tenths/10) + "." + strconv.Itoa(tenths%10)
		now := measure(t, domain.Brix, raw, "20").Computed
		require.Less(t, now, previous, "more sugar is less water at %s", raw)
		previous = now
	}
	require.Contains(t, measure(t, domain.Brix, "80", "").Explanation, "sucrose scale from memory")
}

func FuzzMeasureIsTotal(f *testing.F) {
	f.Add(1, "1.4915", "20.0")
	f.Add(2, "18.65", "")
	f.Add(5, "0.1042", "")
	f.Add(3, "79.95", "")
	f.Add(8, "-0", "99999999")
	f.Fuzz(func(t *testing.T, kind int, raw, temperature string) {
		m, err := domain.Measure(domain.Kind(kind), raw, temperature)
		if err != nil {
			var named interface{ Reason() string }
			require.ErrorAs(t, err, &named)
			return
		}
		require.NotEmpty(t, m.Explanation)
		require.LessOrEqual(t, m.Computed, m.Reported+5_000)
		require.Equal(t, m.Reported, m.Factor.Report(m.Reported))
	})
}
