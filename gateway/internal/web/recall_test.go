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
		"Call quality desk, 555 0199 day and night", "Own lorry, 555 0111, 1 Creamery Lane, 13 Sep 2026", "No contact on record.", "Valley Freight, 13 Sep 2026",
		"Shipment 5a100000-0000-4000-8000-000000000014", "Shipment 5a100000-0000-4000-8000-000000000015", "T1-26-003, in pail 3, seal 4411",
	} {
		require.Contains(t, body, wanted)
	}
	require.Empty(t, w.House.Asked(&inventoryv1.GetPackLotRequest{}), "what people know places by came with the answer")
	require.Empty(t, w.House.Asked(&inventoryv1.GetChargeRequest{}))

	send(t, line, w.URL+"/shipments/new", url.Values{
		"customer": {"Harvest Fair"}, "recall_contact": {"555 0144"}, "carrier": {"Own lorry"}, "carrier_address": {"1 Creamery Lane"}, "carrier_telephone": {"555 0111"},
		"lines": {gatetest.LotCode + " 10"},
	})
	asked := last(t, w, &inventoryv1.ShipRequest{})
	require.Equal(t, []string{"555 0144", "Own lorry", "1 Creamery Lane", "555 0111"}, []string{asked.GetRecallContact(), asked.GetCarrier(), asked.GetCarrierAddress(), asked.GetCarrierTelephone()})
	_, body = open(t, line, w.URL+"/shipments")
	require.Contains(t, body, "by Own lorry, 555 0111, 1 Creamery Lane;")
	require.Contains(t, body, "Not on record, and no contact")
	require.Contains(t, body, "In a recall call 555 0144")
}
