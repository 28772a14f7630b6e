package office

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestGauge_StandsWhereTheWaterIs(t *testing.T) {
	t.Parallel()
	g := drawGauge(map[string]string{"moisture_percent": "19.2", "base_percent": "18.6"})
	require.Equal(t, int64(248), g.ValueX, "62 of 100 parts of 400")
	require.Equal(t, int64(224), g.BaseX)
	require.True(t, g.Over)
	exact := drawGauge(map[string]string{"moisture_percent": "18.6", "base_percent": "18.6"})
	require.False(t, exact.Over, "up to the limit is paid in full")
	dry := drawGauge(map[string]string{"moisture_percent": "11.0"})
	require.Equal(t, int64(0), dry.ValueX)
	require.False(t, dry.HasBase)
	require.Equal(t, int64(gaugeWidth), drawGauge(map[string]string{"moisture_percent": "25.0"}).ValueX)
	require.Nil(t, drawGauge(map[string]string{"charge": "HAULING"}))
}
