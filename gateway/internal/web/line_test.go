package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

func TestLine_IsClearedAndStopsWhenJarsAreShort(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("line1")
	w.House.Refuse(&inventoryv1.StartPackLotRequest{}, apierr.State("lines/L1", "NOT_CLEARED", "line L1 was not cleared since lot FC26257L1A ran on it"))
	answer, body := send(t, client, w.URL+"/lots/new", url.Values{"charge": {"charges/" + gatetest.ChargeID}, "label": {"labels/CLOVER-1LB-3"}, "line": {"l1"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, `href="/clearances/new?line=l1"`, "the next step")
	require.NotContains(t, body, "TABLE-2LB-1", "a label nobody approved is not offered")

	answer, _ = send(t, client, w.URL+"/clearances/new?line=l1", url.Values{"line": {"l1"}, "labels_gone": {"yes"}, "jars_gone": {"yes"}, "glass_clear": {"yes"}, "cleaning": {"flushed"}})
	require.Equal(t, "/clearances?cleared=L1", answer.Header.Get("Location"))
	require.True(t, last(t, w, &inventoryv1.RecordLineClearanceRequest{}).GetGlassClear())

	answer, _ = send(t, client, w.URL+"/lots/"+gatetest.RunningID+"/weigh/new", url.Values{"unit": {"G"}, "net_weights": {"453,1 454.2\n455"}})
	require.Equal(t, "/lots/"+gatetest.RunningID+"/weigh", answer.Header.Get("Location"))
	require.Equal(t, []string{"453.1", "454.2", "455"}, last(t, w, &inventoryv1.CheckLineRequest{}).GetNetWeights())
	_, body = open(t, client, w.URL+"/lots/"+gatetest.RunningID+"/weigh")
	require.Contains(t, body, "Stop the line.")
}

func TestHeldLotsAndEmptyBarrels_OfferNothingThatWouldBeRefused(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	line, warehouse := w.Browser("line1"), w.Browser("warehouse1")
	_, body := open(t, line, w.URL+"/lots/"+gatetest.HeldLotID)
	require.Contains(t, body, "Run stopped: the average is below the label.")
	for _, act := range []string{"/draw", "/rework", "/shipments/new", "/pallets/new"} {
		require.NotContains(t, body, act)
	}
	_, body = open(t, line, w.URL+"/lots/"+gatetest.RunningID)
	require.Contains(t, body, "/draw")
	_, body = open(t, warehouse, w.URL+"/stock/"+gatetest.EmptiedID)
	require.Contains(t, body, "Empty. Nothing is left in it")
	require.NotContains(t, body, "free to use")
	require.NotContains(t, body, "/stock/move")
	require.NotContains(t, body, "/split")
}

func TestPallets_LeaveByTheirScannedCode(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("line1")
	answer, _ := send(t, client, w.URL+"/pallets/new", url.Values{"lines": {gatetest.LotCode + " 240"}})
	require.Equal(t, "/pallets/"+gatetest.PalletID, answer.Header.Get("Location"))
	require.EqualValues(t, 240, last(t, w, &inventoryv1.BuildPalletRequest{}).GetLines()[0].GetJars())
	answer, _ = send(t, client, w.URL+"/shipments/new", url.Values{"customer": {"Market Hall Larder"}, "carrier": {"Own lorry"}, "pallets": {"00" + gatetest.SSCC + "\n" + gatetest.PalletID}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, []string{"pallets/" + gatetest.SSCC, "pallets/" + gatetest.PalletID}, last(t, w, &inventoryv1.ShipRequest{}).GetPallets(), "with its application identifier or without")
	answer, _ = send(t, client, w.URL+"/pallets/"+gatetest.PalletID+"/break", url.Values{"reason": {"half is wanted"}})
	require.Equal(t, "/pallets/"+gatetest.PalletID, answer.Header.Get("Location"))
	require.Equal(t, "half is wanted", last(t, w, &inventoryv1.BreakPalletRequest{}).GetReason())
	_, body := open(t, client, w.URL+"/shipments")
	require.Contains(t, body, `href="/pallets/`+gatetest.PalletID+`"><span class="chunk">906</span><span class="chunk">141</span>`, "a pallet goes by the code on its label")
	require.NotContains(t, body, "pallet "+gatetest.PalletID[:8])
	require.Empty(t, w.House.Asked(&inventoryv1.GetPalletRequest{}), "a shipment knows the codes of its pallets")
}

func TestHeat_IsLoggedFromPastedRows(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	page := w.URL + "/heat/new"
	answer, body := send(t, client, page, url.Values{"stay": {"hr1"}, "warmed": {"fc-04417"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "must be chosen, or its rows pasted")
	answer, body = send(t, client, page, url.Values{"stay": {"hr1"}, "warmed": {"fc-04417"}, "limit_celsius": {"46,5"}, "readings": {"time,probe,celsius\n2026-09-20 14:15,p1,44.1\nlater,p1,44\n"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "Row 3, time", "by row")
	answer, _ = send(t, client, page, url.Values{"stay": {"hr1"}, "warmed": {"fc-04417"}, "limit_celsius": {"62,8"}, "readings": {"time,probe,celsius\n2026-09-20 14:15,p1,44.1\n"}})
	require.Equal(t, "/stock/"+gatetest.StockID+"/heat", answer.Header.Get("Location"))
	asked := last(t, w, &inventoryv1.RecordTemperaturesRequest{})
	require.Equal(t, "heatStays/HR1", asked.GetName())
	require.Equal(t, "62.8", asked.GetLimitCelsius())
	require.NotContains(t, body, "second_person", "nobody types somebody else's name")
	require.Contains(t, body, `href="/heat/allowed?stay=hr1"`, "the other person's page")

	w.House.Refuse(&inventoryv1.RecordTemperaturesRequest{}, apierr.State("heatStays/HR1", "NOT_ALLOWED", "stay HR1 is meant to be up to 62.8 °C: another person must allow it; users/warehouse1 allowed it"))
	_, body = send(t, client, page, url.Values{"stay": {"hr1"}, "warmed": {"fc-04417"}, "limit_celsius": {"62,8"}, "readings": {"time,probe,celsius\n2026-09-20 14:15,p1,44.1\n"}})
	require.Contains(t, body, "Stay HR1 is meant to be up to 62.8 °C: another person must allow it; warehouse1 allowed it.")
}

func TestHeat_IsAllowedByASecondPerson(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("line1")
	_, body := open(t, client, w.URL+"/heat/allowed")
	require.Contains(t, body, "HR1-260914: up to 65.0 °C (149.0 °F)")
	require.Contains(t, body, `href="/heat/allow"`)
	require.NotContains(t, body, "Log it", "whoever allowed it does not begin it")
	_, body = open(t, w.Browser("warehouse1"), w.URL+"/heat/allowed?stay=hr1-260914")
	require.Contains(t, body, `href="/heat/new?stay=HR1-260914&amp;limit_celsius=65.0"`)
	require.Equal(t, "heatStays/HR1-260914", last(t, w, &inventoryv1.ListHeatAllowancesRequest{}).GetStay())

	_, body = open(t, client, w.URL+"/heat/allow?stay=LINE-1")
	require.Contains(t, body, `value="LINE-1"`)
	require.Contains(t, body, "Honey that hot scalds")
	answer, _ := send(t, client, w.URL+"/heat/allow", url.Values{"stay": {"line-1"}, "limit_celsius": {"62,8"}, "reason": {"yeast count high"}})
	require.Equal(t, "/heat/allowed?done=yes&stay=LINE-1", answer.Header.Get("Location"))
	asked := last(t, w, &inventoryv1.AllowHeatRequest{})
	require.Equal(t, []string{"heatStays/LINE-1", "62.8", "yeast count high"}, []string{asked.GetName(), asked.GetLimitCelsius(), asked.GetReason()})
	answer, _ = open(t, w.Browser("auditor1"), w.URL+"/heat/allow")
	require.Equal(t, http.StatusForbidden, answer.StatusCode, "an auditor changes nothing")

	_, body = open(t, client, w.URL+"/stock/"+gatetest.StockID+"/heat")
	require.Contains(t, body, "line1 let it be up to 65.0 °C (149.0 °F) on ")
	require.Contains(t, body, "Yeast count high: 30 minutes at 62.8 °C.")
}

func TestSideGoods_AreNotedInTheirOwnUnit(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/side-goods")
	require.Contains(t, body, "28 pieces")
	require.Contains(t, body, "31.5\u00a0lb")
	answer, _ := send(t, client, w.URL+"/side-goods/new", url.Values{"good": {"BEESWAX"}, "move": {"RECEIVED"}, "mass": {"31,5"}, "crop_year": {"2026"}, "member": {"m-0012"}})
	require.Equal(t, "/side-goods?noted=yes", answer.Header.Get("Location"))
	noted := last(t, w, &inventoryv1.RecordSideEntryRequest{})
	require.Equal(t, "31.5", noted.GetMass().GetValue())
	require.Equal(t, gatetest.Juniper, noted.GetMember())
	require.Zero(t, noted.GetPieces())

	_, body = open(t, client, w.URL+"/loss?from=packLots/"+gatetest.LotID+"&of=jars")
	require.Contains(t, body, "How many jars")
	require.NotContains(t, body, "Foam", "jars are not skimmed")
	answer, _ = send(t, client, w.URL+"/loss?from=packLots/"+gatetest.LotID, url.Values{"from": {"packLots/" + gatetest.LotID}, "of": {"jars"}, "jars": {"3"}, "code": {"BROKEN"}, "reason": {"a shelf gave way"}})
	require.Equal(t, "/lots/"+gatetest.LotID+"?as=BROKEN&done=lost&jars=3&mass=3.0", answer.Header.Get("Location"))
	gone := last(t, w, &inventoryv1.RecordLossRequest{})
	require.Equal(t, int64(3), gone.GetJars())
	require.Nil(t, gone.GetMass())
}

func TestTrace_TakesTheCodeOfAPalletAndTheNameOfALot(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	answer, _ := open(t, client, w.URL+"/trace?code=(00)"+gatetest.SSCC)
	require.Equal(t, "/pallets/"+gatetest.SSCC, answer.Header.Get("Location"))
	open(t, client, w.URL+"/trace?code=packLots/"+gatetest.LotID)
	require.Equal(t, "packLots/"+gatetest.LotID, last(t, w, &inventoryv1.TraceRequest{}).GetName(), "as a mock recall links to it")
}
