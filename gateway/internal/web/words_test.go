package web

import (
	"testing"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func TestWords_OfThings(t *testing.T) {
	t.Parallel()
	require.Equal(t, "Waiting for its certificate.", sentence("waiting for its certificate"))
	require.Equal(t, "Is it?", sentence("is it?"))
	require.Empty(t, sentence(" "))
	require.Equal(t, "pack lot FC26257L1A", thing("packLots/FC26257L1A"))
	require.Equal(t, "barrel 5d7e3a10", thing("stock/5d7e3a10-0000-4000-8000-000000000012"))
	require.Equal(t, "loss UNEXPLAINED REST", thing("losses/UNEXPLAINED_REST"))
	require.Equal(t, []string{"K7Q", "2M9", "XPR"}, chunks("K7Q2M9XPR"))
	require.Equal(t, []string{"K7"}, chunks("K7"))
	require.Equal(t, "A", gradeWord("A"))
	require.Equal(t, "substandard", gradeWord("SUBSTANDARD"))
	require.Equal(t, "1,200", inThousands(int32(1200)))
	require.Equal(t, "in a list", looked("ListCertificates"))
}

func TestMemberName_ReadsWhatPeopleType(t *testing.T) {
	t.Parallel()
	for typed, name := range map[string]string{
		"M-0012": "members/M-0012", " m-0012 ": "members/M-0012", "12": "members/M-0012", "123456": "members/M-123456",
		"M-0012 Juniper Ridge Bees": "members/M-0012", "": "", "juniper": "members/JUNIPER",
	} {
		require.Equal(t, name, memberName(typed), typed)
	}
}

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

func TestBars_FillTheirShareWithoutGaps(t *testing.T) {
	t.Parallel()
	total := func(variety, colour, net string) *inventoryv1.StockTotal {
		return &inventoryv1.StockTotal{Variety: variety, ColorClass: colour, Barrels: 1, Net: &typev1.Mass{Value: net, Unit: "LB"}}
	}
	drawn := drawBars([]*inventoryv1.StockTotal{
		total("clover", "WHITE", "333.3"), total("clover", "", "333.3"), total("clover", "WATER_WHITE", "333.4"), total("sage", "WHITE", "500.0"),
	})
	require.Len(t, drawn.Rows, 2)
	clover := drawn.Rows[0]
	require.Equal(t, "1,000.0\u00a0lb", clover.Net)
	require.Equal(t, []string{"honey-water-white", "honey-white", "honey-ungraded"}, []string{clover.Parts[0].Class, clover.Parts[1].Class, clover.Parts[2].Class})
	var x int64
	for _, p := range clover.Parts {
		require.Equal(t, x, p.X)
		x += p.Width
	}
	require.Equal(t, int64(barsWidth), x)
	require.Equal(t, int64(barsWidth/2), drawn.Rows[1].Width)
	require.Len(t, drawn.Legend, 3)
	require.Empty(t, drawBars(nil).Rows)
}
