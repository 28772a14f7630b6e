package web_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestTrace_SaysWhomToCallAndWhoTookItThere(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office, line := w.Browser("office1"), w.Browser("line1")
	_, body := open(t, office, w.URL+"/trace?code=FC-04417")
	for _, wanted := range []string{
		"Call quality desk, 555 0199 day and night", "Own lorry, 13 Sep 2026", "No contact on record.", "Valley Freight, 13 Sep 2026",
		"Shipment 5a100000-0000-4000-8000-000000000014", "Shipment 5a100000-0000-4000-8000-000000000015", "Tank T1, c4a60000, in pail 3, seal 4411",
	} {
		require.Contains(t, body, wanted)
	}
	require.Empty(t, w.House.Asked(&inventoryv1.GetPackLotRequest{}), "what people know places by came with the answer")
	require.Empty(t, w.House.Asked(&inventoryv1.GetChargeRequest{}))

	send(t, line, w.URL+"/shipments/new", url.Values{"customer": {"Harvest Fair"}, "recall_contact": {"555 0144"}, "carrier": {"Own lorry"}, "lines": {gatetest.LotCode + " 10"}})
	require.Equal(t, "555 0144", last(t, w, &inventoryv1.ShipRequest{}).GetRecallContact())
	_, body = open(t, line, w.URL+"/shipments")
	require.Contains(t, body, "Not on record, and no contact")
	require.Contains(t, body, "In a recall call 555 0144")
}
