package web_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestReturns_AreReceivedByOneAndDecidedByAnother(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	line := w.Browser("line1")
	const shipment = "shipments/5a100000-0000-4000-8000-000000000014"
	_, body := open(t, line, w.URL+"/shipments")
	require.Contains(t, body, "&amp;place=packLots%2f"+gatetest.LotID)
	page := w.URL + "/returns/new?" + url.Values{"shipment": {shipment}, "place": {"packLots/" + gatetest.LotID}}.Encode()
	_, body = open(t, line, page)
	require.Contains(t, body, "How many jars of lot "+gatetest.LotCode+" came back?")
	fields := url.Values{"shipment": {shipment}, "place": {"packLots/" + gatetest.LotID}, "jars": {"12O"}, "reason": {"recalled"}}
	_, body = send(t, line, page, fields)
	require.Contains(t, body, "must be a whole number from 1", "a typing error is not all of them")
	require.Empty(t, w.House.Asked(&inventoryv1.ReceiveReturnRequest{}))
	fields.Set("jars", "120")
	answer, _ := send(t, line, page, fields)
	require.Contains(t, answer.Header.Get("Location"), "/returns")
	asked := last(t, w, &inventoryv1.ReceiveReturnRequest{})
	require.Equal(t, []string{shipment, "packLots/" + gatetest.LotID, ""}, []string{asked.GetShipment(), asked.GetPlace(), asked.GetPallet()})
	require.Equal(t, int64(120), asked.GetJars())
	answer, _ = send(t, line, w.URL+"/returns/new", url.Values{"pallet": {"(00)" + gatetest.SSCC}, "reason": {"not ordered"}})
	require.Contains(t, answer.Header.Get("Location"), "/returns")
	require.Equal(t, "pallets/"+gatetest.SSCC, last(t, w, &inventoryv1.ReceiveReturnRequest{}).GetPallet())

	_, body = open(t, line, w.URL+"/returns")
	require.Contains(t, body, "2 returns wait for a decision")
	require.True(t, last(t, w, &inventoryv1.ListReturnsRequest{}).GetWaitingOnly())
	require.NotContains(t, body, "/decide", "the line receives and does not decide")
	warehouse := w.Browser("warehouse1")
	_, body = open(t, warehouse, w.URL+"/returns")
	require.Contains(t, body, "/returns/"+gatetest.ReturnID+"/decide")
	require.NotContains(t, body, "/returns/"+gatetest.BulkReturnID+"/decide", "who received it does not decide")
	_, body = open(t, warehouse, w.URL+"/returns/"+gatetest.BulkReturnID+"/decide")
	require.Contains(t, body, "You received it: another person decides.")

	office := w.Browser("office1")
	answer, _ = send(t, office, w.URL+"/returns/"+gatetest.ReturnID+"/decide", url.Values{"outcome": {"RESTOCKED"}, "jars": {"40"}, "reason": {"lids are tight"}})
	require.Equal(t, "/returns?done=RESTOCKED", answer.Header.Get("Location"))
	_, body = open(t, office, w.URL+"/returns?done=RESTOCKED")
	require.Contains(t, body, "Decided: it is for sale again.")
	decided := last(t, w, &inventoryv1.DecideReturnRequest{})
	require.Equal(t, inventoryv1.ReturnOutcome_RETURN_OUTCOME_RESTOCKED, decided.GetOutcome())
	require.Equal(t, int64(40), decided.GetJars())
	bulk := url.Values{"outcome": {"DESTROYED"}, "mass": {"20,5"}, "charge": {"charges/" + gatetest.ChargeID}, "reason": {"seal broken"}}
	send(t, office, w.URL+"/returns/"+gatetest.BulkReturnID+"/decide", bulk)
	decided = last(t, w, &inventoryv1.DecideReturnRequest{})
	require.Equal(t, []string{"20.5", ""}, []string{decided.GetMass().GetValue(), decided.GetCharge()}, "what is destroyed is poured nowhere")
	bulk.Set("outcome", "RESTOCKED")
	bulk.Set("mass", "1,020.5")
	send(t, office, w.URL+"/returns/"+gatetest.BulkReturnID+"/decide", bulk)
	require.Equal(t, "charges/"+gatetest.ChargeID, last(t, w, &inventoryv1.DecideReturnRequest{}).GetCharge())
	require.Equal(t, "1020.5", last(t, w, &inventoryv1.DecideReturnRequest{}).GetMass().GetValue(), "a comma that parts thousands is no point")
	_, body = open(t, w.Browser("auditor1"), w.URL+"/trace?code="+gatetest.LotCode)
	require.Contains(t, body, "140.0\u00a0lb came back")
}
