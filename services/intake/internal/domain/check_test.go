package domain_test

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
)

// morning tries the floor scale at 50 lb and with a check barrel of 600 lb.
func morning(zero, fifty, barrel quantity.Mass) *domain.Check {
	return &domain.Check{Column: domain.Maintenance, Zero: zero, Loads: []domain.Load{
		{WeightID: "TW-50-1", Known: 50_000, Indication: fifty},
		{WeightID: "CB-1", Known: 600_000, Indication: barrel, Position: "B"},
	}}
}

func TestCheckIsJudgedAtItsLimit(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		check   *domain.Check
		passed  bool
		finding string
	}{
		"exact":     {morning(0, 50_000, 600_000), true, "within the limit: the largest error was 0.0 lb at zero, allowed ±0.5 lb"},
		"on it":     {morning(0, 50_000, 601_000), true, "within the limit: the largest error was +1.0 lb at 600.0 lb with weight CB-1 on corner B, allowed ±1.0 lb"},
		"beyond it": {morning(0, 50_000, 601_500), false, "outside the limit: the largest error was +1.5 lb at 600.0 lb with weight CB-1 on corner B, allowed ±1.0 lb"},
		"too light": {morning(0, 49_000, 600_000), false, "outside the limit: the largest error was -1.0 lb at 50.0 lb with weight TW-50-1, allowed ±0.5 lb"},
		"zero off":  {morning(-1_000, 50_000, 600_000), false, "outside the limit: the largest error was -1.0 lb at zero, allowed ±0.5 lb"},
	} {
		require.NoError(t, dock().Judge(c.check, lb), name)
		require.Equal(t, c.passed, c.check.Passed, name)
		require.Equal(t, c.finding, c.check.Finding, name)
	}
	check := morning(0, 50_500, 600_000)
	check.Column = domain.Acceptance
	require.NoError(t, dock().Judge(check, lb))
	require.False(t, check.Passed, "half a division is allowed at 100 divisions when new")
	require.Equal(t, "0.25", check.Loads[0].Tolerance.String())
	require.Equal(t, domain.Centre, check.Loads[0].Position)
}

func TestCheckNamesAllItsFaults(t *testing.T) {
	t.Parallel()
	check := morning(100, 50_250, 1_050_500)
	check.Loads[0].Position = "E"
	check.Loads[1].Known = 1_000_500
	d := refusal(t, dock().Judge(check, lb))
	var fields []string
	for _, f := range d.Faults {
		fields = append(fields, f.Field)
	}
	require.ElementsMatch(t, []string{
		"zero_indication", "loads[0].position", "loads[0].indication", "loads[1].known", "loads[1].indication",
	}, fields)
	d = refusal(t, dock().Judge(&domain.Check{Loads: []domain.Load{{WeightID: "none"}}}, lb))
	require.Equal(t, "loads", d.Metadata["field"])
}

func TestNegativeIndicationsHaveDivisionsToo(t *testing.T) {
	t.Parallel()
	d := refusal(t, dock().Judge(morning(-300, 50_000, 600_000), lb))
	require.Equal(t, "OUT_OF_RANGE", d.Reason)
	require.Equal(t, "-0.5", d.Metadata["low"])
	require.Equal(t, "0.0", d.Metadata["high"])
}

// At the first and the last division of every step of the published table: an error of what is allowed passes, a division more
// fails, either way.
func TestEveryStepOfTheTableDecidesACheck(t *testing.T) {
	t.Parallel()
	tried := 0
	for _, row := range published.Load(t, "hb44_tolerances.csv") {
		class := domain.Class(row.Text("class"))
		if strings.HasPrefix(string(class), "rule") {
			continue
		}
		require.NotEmpty(t, domain.ToleranceSource(class))
		s := dock()
		s.Class, s.Capacity = class, map[domain.Class]quantity.Mass{domain.ClassII: 100_000, domain.ClassIII: 10_000, domain.ClassIIL: 10_000}[class]*s.Division
		for _, column := range []string{"divisions_from", "divisions_to"} {
			if row.Text(column) == "" || row.Text(column) == "0" {
				continue
			}
			n, err := strconv.ParseInt(row.Text(column), 10, 64)
			require.NoError(t, err)
			known := quantity.Mass(n) * s.Division
			for kind, name := range map[domain.Column]string{domain.Acceptance: "acceptance_plus_minus_d", domain.Maintenance: "maintenance_plus_minus_d"} {
				// The scale shows whole divisions only.
				allowed := halves(t, row, name) / 2 * s.Division
				for _, e := range []quantity.Mass{allowed, -allowed, allowed + s.Division, -allowed - s.Division} {
					c := &domain.Check{Column: kind, Loads: []domain.Load{{WeightID: "TW", Known: known, Indication: known + e}}}
					require.NoError(t, s.Judge(c, lb))
					require.Equal(t, e == allowed || e == -allowed, c.Passed, "class %s at %d d, %s: %s", class, n, kind, c.Finding)
					tried++
				}
			}
		}
	}
	require.Equal(t, 144, tried)
}
