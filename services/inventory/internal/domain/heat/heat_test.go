package heat

import (
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
)

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

func TestTheLineIsTheFitOfThePublishedTable(t *testing.T) {
	t.Parallel()
	table := published.Load(t, "hmf_kinetics.csv")
	for _, row := range published.Where(table, "quantity", "HMF time to gain 30 mg/kg") {
		c := Celsius(number(t, row.Text("temp_C")) * 10)
		days, within := DaysToLimit(c)
		if row.Text("geometric_mean_or_param") == "" {
			require.False(t, within, "%s: under two hours is no figure to reckon with", row.Source())
			continue
		}
		require.True(t, within)
		require.InEpsilon(t, number(t, row.Text("fit_value")), days, 0.001, row.Source())
		require.InDelta(t, 1, days/number(t, row.Text("geometric_mean_or_param")), 0.46, row.Source())
	}
	require.Contains(t, published.Where(table, "quantity", "ARRHENIUS HMF")[0].Text("geometric_mean_or_param"), "A=-52.7282 B=17592.6")
	for _, row := range published.Where(published.Load(t, "worked_examples.csv"), "quantity", "days to +30 mg/kg HMF at 35 C") {
		days, _ := DaysToLimit(35_0)
		require.InDelta(t, number(t, row.Text("expected")), days, number(t, row.Text("tolerance")), row.Source())
	}
	cool, _ := DaysToLimit(10_0)
	warm, _ := DaysToLimit(30_0)
	require.InDelta(t, warm, cool, 0, "below the table its coolest row counts")
}

var start = time.Date(2026, 9, 20, 6, 0, 0, 0, time.UTC)

// every quarter of an hour, a tenth up and a tenth down.
func log(hours float64, c Celsius) Log {
	l := Log{Stay: Stay{ID: "HR1-1"}, Probe: "P1"}
	for i := range int(hours*4) + 1 {
		l.Readings = append(l.Readings, Reading{start.Add(time.Duration(i) * 15 * time.Minute), c - Celsius(i%2)})
	}
	return l
}

func TestThreeDaysOfHotRoomUseATenthOfTheBudget(t *testing.T) {
	t.Parallel()
	a := Total([]Log{log(72, 40_0)})
	require.Equal(t, "9.51", a.Used.String(), "3 of 31.54 days at 40 °C")
	require.False(t, a.Unknown)
	require.Empty(t, a.Alarms)
	two, second := log(72, 40_0), log(72, 38_0)
	second.Probe = "P2"
	require.Equal(t, a.Used, Total([]Log{two, second}).Used, "the warmer probe of a room counts")
	second.ID = "HR1-2"
	require.Greater(t, Total([]Log{two, second}).Used, a.Used, "stays add up")
}

func TestAlarmAtFourFifthsOfTheBudget(t *testing.T) {
	t.Parallel()
	a := Total([]Log{log(24*5, 50_0)})
	require.Equal(t, quantity.Percent(90_18), a.Used)
	require.False(t, a.Unknown, "dear, but known")
	require.Equal(t, Budget, a.Alarms[0].Kind)
	require.Contains(t, a.Alarms[0].Sentence, "90.18 percent")
}

func TestAStuckProbeAGapAndTooMuchHeatMakeItUnknown(t *testing.T) {
	t.Parallel()
	stuck := log(9, 44_0)
	for i := range stuck.Readings {
		stuck.Readings[i].Celsius = 44_0
	}
	a := Total([]Log{stuck})
	require.True(t, a.Unknown)
	require.Len(t, a.Alarms, 1)
	require.Equal(t, Flat, a.Alarms[0].Kind)
	require.Equal(t, start, a.Alarms[0].From)
	require.Equal(t, start.Add(9*time.Hour), a.Alarms[0].To)
	require.Contains(t, a.Alarms[0].Sentence, "44.0 °C without a change for 9 h")
	stuck.Readings = stuck.Readings[:12]
	require.False(t, Total([]Log{stuck}).Unknown, "a quarter of an hour short of three hours")

	gap := log(2, 40_0)
	gap.Readings = append(gap.Readings[:3:3], gap.Readings[6:]...)
	require.Equal(t, Gap, Total([]Log{gap}).Alarms[0].Kind)
	hot := log(2, 40_0)
	hot.Readings[4].Celsius = 70_1
	a = Total([]Log{hot})
	require.Equal(t, TooHot, a.Alarms[0].Kind)
	require.Contains(t, a.Alarms[0].Sentence, "70.1 °C")
	require.Zero(t, Total(nil).Used)
	require.False(t, Total([]Log{{Readings: []Reading{{start, 40_0}}}}).Unknown)
}

func TestMoreHeatNeverCostsLess(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		l := log(6, 40_0)
		for i := range l.Readings {
			l.Readings[i].Celsius = Celsius(rapid.Int64Range(10_0, 70_0).Draw(t, "celsius"))
		}
		before := Total([]Log{l}).Used
		l.Readings[rapid.IntRange(0, len(l.Readings)-1).Draw(t, "which")].Celsius += 5_0
		require.GreaterOrEqual(t, Total([]Log{l}).Used, before)
	})
}
