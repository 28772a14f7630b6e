package site

import (
	"testing"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func TestBars_FillTheirShareWithoutGaps(t *testing.T) {
	t.Parallel()
	total := func(variety, colour, net string) *inventoryv1.StockTotal {
		return &inventoryv1.StockTotal{Variety: variety, ColorClass: colour, Barrels: 1, Net: &typev1.Mass{Value: net, Unit: "LB"}}
	}
	drawn := DrawBars([]*inventoryv1.StockTotal{
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
	require.Equal(t, int64(BarsWidth), x)
	require.Equal(t, int64(BarsWidth/2), drawn.Rows[1].Width)
	require.Len(t, drawn.Legend, 3)
	require.Empty(t, DrawBars(nil).Rows)
}
