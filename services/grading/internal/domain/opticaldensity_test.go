package domain_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

const densityColumn = "optical_density_upper_limit_560nm_3.15cm"

// Both sides of every printed limit of optical density, by density and by transmittance.
func TestOpticalDensityClassesAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	require.Contains(t, published.Where(published.Load(t, "color_formulas.csv"), "id", "OD")[0].Text("formula"), "log10(100 / %T)")
	rows := published.Where(published.Load(t, "color_classes.csv"), "scheme", "US (USDA 1985)")
	limits := 0
	for i, row := range rows {
		limit := row.Text(densityColumn)
		if limit == "" {
			continue
		}
		limits++
		class, next := wireName(row.Text("class")), wireName(rows[i+1].Text("class"))
		at := measure(t, domain.OpticalDensity560, limit, "")
		require.Equal(t, domain.Color, at.Factor)
		require.Equal(t, value(t, row.Text("to_mm_pfund")), at.Computed, "%s", row)
		require.Equal(t, class, classOf(t, domain.Color.Format(at.Reported)), "the limit is included: %s", row)
		over := measure(t, domain.OpticalDensity560, (value(t, limit) + 1).Format(4), "")
		require.Equal(t, next, classOf(t, domain.Color.Format(over.Reported)), "a ten-thousandth over: %s", row)
		// The same by transmittance: a little clearer is within, a little darker is over.
		percent := 100 / math.Pow(10, float(t, limit))
		clearer := measure(t, domain.Transmittance560, fmt.Sprintf("%.6f", percent*1.0001), "")
		require.Equal(t, class, classOf(t, domain.Color.Format(clearer.Reported)), "%s", row)
		darker := measure(t, domain.Transmittance560, fmt.Sprintf("%.6f", percent*0.9997), "")
		require.Equal(t, next, classOf(t, domain.Color.Format(darker.Reported)), "%s", row)
	}
	require.Equal(t, 6, limits)
}

func TestDarkerIsNeverPaler(t *testing.T) {
	t.Parallel()
	last := domain.Value(-1)
	for density := domain.Value(0); density <= 40_000; density += 7 {
		m := measure(t, domain.OpticalDensity560, density.Format(1), "")
		require.GreaterOrEqual(t, m.Computed, last, density.Format(4))
		last = m.Computed
	}
}

func TestTransmittanceIsExplained(t *testing.T) {
	t.Parallel()
	require.Equal(t, "10 % transmittance at 560 nm is optical density 1.0000, which is about 67.8526 mm colour between the printed limits of the classes, reported as 67.9 mm (rounded once, half up).",
		measure(t, domain.Transmittance560, "10", "").Explanation)
	require.Zero(t, measure(t, domain.Transmittance560, "100", "").Reported)
	for kind, wrong := range map[domain.Kind][]string{
		domain.Transmittance560: {"0", "0.009999", "100.000001", "-5"}, domain.OpticalDensity560: {"-0.0001", "4.000001"},
	} {
		for _, raw := range wrong {
			_, err := domain.Measure(kind, raw, "")
			var out *domain.OutOfRangeError
			require.ErrorAs(t, err, &out, raw)
		}
	}
	require.Contains(t, measure(t, domain.OpticalDensity560, "3.5", "").Explanation, "over the last printed limit")
}
