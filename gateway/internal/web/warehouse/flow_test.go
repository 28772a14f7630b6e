package warehouse

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func moved(from, to, value string) *inventoryv1.Transfer {
	return &inventoryv1.Transfer{From: from, To: to, Mass: &typev1.Mass{Value: value, Unit: "LB"}}
}

func TestFlow_IsAsTallAsWhatWentThrough(t *testing.T) {
	t.Parallel()
	require.Nil(t, drawFlow(nil, nil))
	f := drawFlow([]*inventoryv1.Transfer{
		moved("stock/a", "charges/t", "300.0"), moved("stock/b", "charges/t", "100.0"), moved("charges/t", "packLots/l", "400.0"),
		moved("packLots/l", "shipments/s", "200.0"), moved("packLots/l", "shipments/s", "100.0"),
	}, map[string]string{"stock/a": "FC-04417"})
	heights := map[string]int64{}
	for _, n := range f.Nodes {
		heights[n.Label+" "+n.Mass] = n.Height
		require.Less(t, n.Y+n.Height, f.Height)
		require.Less(t, n.X+flowNodeW, int64(flowWidth))
	}
	require.Equal(t, map[string]int64{
		"FC-04417 300.0\u00a0lb": 315, "barrel b 100.0\u00a0lb": 105, "charge t 400.0\u00a0lb": 420, "pack lot l 400.0\u00a0lb": 420, "shipment s 300.0\u00a0lb": 315,
	}, heights)
	require.Len(t, f.Bands, 4, "what went the same way twice is one band")
	require.Equal(t, "pack lot l to shipment s: 300.0\u00a0lb", f.Bands[3].Label)
	require.Equal(t, "2 barrels, 1 charge, 1 run, 1 destination", f.Summary)
}

func TestFlow_DrawsManySmallBarrelsAsOneAndAHeelAside(t *testing.T) {
	t.Parallel()
	transfers := []*inventoryv1.Transfer{moved("charges/old", "charges/t", "50.0")}
	for i := range 30 {
		transfers = append(transfers, moved(fmt.Sprintf("stock/%02d", i), "charges/t", fmt.Sprintf("%d.0", 600-i)))
	}
	f := drawFlow(transfers, nil)
	require.Len(t, f.Nodes, mostPlaces+2)
	require.Equal(t, "19 more", f.Nodes[mostPlaces-1].Label)
	require.Equal(t, "flow-band flow-back", f.Bands[0].Class)
	require.Equal(t, "barrel 00", f.Nodes[0].Label, "the largest keep their names")
}
