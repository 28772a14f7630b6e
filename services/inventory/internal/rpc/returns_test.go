package rpc_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/rpctest"
)

const (
	restocked = inventoryv1.ReturnOutcome_RETURN_OUTCOME_RESTOCKED
	destroyed = inventoryv1.ReturnOutcome_RETURN_OUTCOME_DESTROYED
)

// sent ships jars of a lot, and whatever goes with them.
func (f *floor) sent(lot string, jars int64, bulk ...*inventoryv1.BulkLine) *inventoryv1.Shipment {
	f.t.Helper()
	req := &inventoryv1.ShipRequest{RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", BulkLines: bulk}
	if jars > 0 {
		req.Lines = []*inventoryv1.ShipmentLine{{PackLot: lot, Jars: jars}}
	}
	s, err := f.line.Ship(f.t.Context(), req)
	require.NoError(f.t, err)
	return s
}

func (f *floor) receive(shipment, place string, jars int64) (*inventoryv1.CustomerReturn, error) {
	made, err := f.sales("line1", line).ReceiveReturn(f.t.Context(), &inventoryv1.ReceiveReturnRequest{
		RequestId: request(), Shipment: shipment, Place: place, Jars: jars, Reason: "recalled: loose lids",
	})
	if err != nil {
		return nil, err
	}
	require.Len(f.t, made.GetReturns(), 1)
	return made.GetReturns()[0], nil
}

func (f *floor) decideReturn(name string, outcome inventoryv1.ReturnOutcome, jars int64) (*inventoryv1.CustomerReturn, error) {
	return f.sales("office1", office).DecideReturn(f.t.Context(), &inventoryv1.DecideReturnRequest{RequestId: request(), Name: name, Outcome: outcome, Jars: jars, Reason: "every lid was looked at"})
}

func (f *floor) onHand(lot string) int64 {
	f.t.Helper()
	read, err := f.line.GetPackLot(f.t.Context(), &inventoryv1.GetPackLotRequest{Name: lot})
	require.NoError(f.t, err)
	return read.GetJarsOnHand()
}

// Jars that come back wait apart until another person decides, in parts, and every pound and jar is found at any moment.
func TestJarsThatComeBackWaitUntilAnotherPersonDecides(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.packed()
	sent := f.sent(lot.GetName(), 400, &inventoryv1.BulkLine{Place: item(3), Mass: lb("100.0")})
	_, err := f.receive(sent.GetName(), lot.GetName(), 401)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"resource": sent.GetName(), "difference": "1", "out": "400 jars"})
	require.ErrorContains(t, err, "North Mill Bakery still has 400 jars of lot "+lot.GetCode())
	_, err = f.sales("line1", line).ReceiveReturn(t.Context(), &inventoryv1.ReceiveReturnRequest{RequestId: request(), Shipment: sent.GetName(), Place: item(3), Mass: lb("100.5"), Reason: "the lid leaks"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "0.5", "out": "100.0 lb"})
	require.ErrorContains(t, err, "North Mill Bakery still has 100.0 lb of drum FC-00003")
	_, err = f.receive(sent.GetName(), item(4), 0)
	require.ErrorContains(t, err, "nothing of drum FC-00004 left for North Mill Bakery with this shipment")
	_, err = f.receive("shipments/"+request(), lot.GetName(), 1)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	_, err = f.receive(sent.GetName(), "packLots/NOSUCH", 1)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "packLots/NOSUCH"})

	ask := &inventoryv1.ReceiveReturnRequest{RequestId: request(), Shipment: sent.GetName(), Place: "packLots/" + lot.GetCode(), Jars: 300, Reason: "recalled: loose lids"}
	made, err := f.sales("line1", line).ReceiveReturn(t.Context(), ask)
	require.NoError(t, err)
	again, err := f.sales("line1", line).ReceiveReturn(t.Context(), ask)
	require.NoError(t, err)
	require.True(t, proto.Equal(made, again), "sent twice, it came back once")
	back := made.GetReturns()[0]
	require.Equal(t, []string{"North Mill Bakery", lot.GetName(), lot.GetCode(), "300.0", "300.0", "users/line1"}, []string{
		back.GetCustomer(), back.GetPlace(), back.GetLotCode(), back.GetMass().GetValue(), back.GetWaiting().GetValue(), back.GetReceiver(),
	})
	require.Equal(t, int64(240), f.onHand(lot.GetName()), "not for sale")
	house := f.balanced()
	require.Equal(t, []string{"300.0", "200.0"}, []string{house.GetReturned().GetValue(), house.GetShipped().GetValue()})

	// A recall finds it where it waits, with no honey of the drum that went with the same lorry.
	for _, name := range []string{lot.GetName(), item(1), back.GetName(), sent.GetName()} {
		trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: name})
		require.NoError(t, err)
		require.Equal(t, "100.0", trace.GetAccountedPercent(), name)
		require.Contains(t, where(trace), back.GetName(), name)
	}
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: back.GetName()})
	require.NoError(t, err)
	require.Len(t, trace.GetSources(), 1)
	trace, err = f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, "640.0", trace.GetTotal().GetValue())
	require.Equal(t, []string{"100.0", "300.0"}, []string{trace.GetCustomers()[0].GetMass().GetValue(), trace.GetCustomers()[0].GetReturned().GetValue()})
	trace, err = f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(3)})
	require.NoError(t, err)
	require.NotContains(t, where(trace), back.GetName())

	_, err = f.sales("line1", warehouse).DecideReturn(t.Context(), &inventoryv1.DecideReturnRequest{RequestId: request(), Name: back.GetName(), Outcome: destroyed, Reason: "broken"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/line1"})
	_, err = f.decideReturn(back.GetName(), restocked, 301)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})
	require.ErrorContains(t, err, "300 jars wait for a decision: nobody can decide about 301 jars")
	got, err := f.decideReturn(back.GetName(), restocked, 200)
	require.NoError(t, err)
	require.Equal(t, int64(100), got.GetWaitingJars())
	require.Equal(t, int64(440), f.onHand(lot.GetName()))
	got, err = f.decideReturn(back.GetName(), destroyed, 0)
	require.NoError(t, err)
	require.Zero(t, got.GetWaitingJars())
	require.Equal(t, []string{lot.GetName(), "losses/DESTROYED"}, []string{got.GetDecisions()[0].GetTo(), got.GetDecisions()[1].GetTo()})
	_, err = f.decideReturn(back.GetName(), destroyed, 0)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DECIDED"})
	require.ErrorContains(t, err, "what North Mill Bakery sent back of lot "+lot.GetCode()+" is decided and cannot be decided about again")
	read, err := f.sales("auditor1", accessv1.Role_ROLE_AUDITOR).GetReturn(t.Context(), &inventoryv1.GetReturnRequest{Name: back.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(got, read))

	// Restocked jars leave again, come back again, and are counted once.
	second := f.sent(lot.GetName(), 440)
	again2, err := f.receive(second.GetName(), lot.GetName(), 0)
	require.NoError(t, err)
	require.Equal(t, int64(440), again2.GetJars(), "all of them")
	waiting, err := f.sales("lead1", labLead).ListReturns(t.Context(), &inventoryv1.ListReturnsRequest{WaitingOnly: true})
	require.NoError(t, err)
	require.Len(t, waiting.GetReturns(), 1)
	all, err := f.sales("wh1", warehouse).ListReturns(t.Context(), &inventoryv1.ListReturnsRequest{PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, again2.GetName(), all.GetReturns()[0].GetName())
	require.NotEmpty(t, all.GetNextPageToken())
	of, err := f.sales("wh1", warehouse).ListReturns(t.Context(), &inventoryv1.ListReturnsRequest{Shipment: sent.GetName()})
	require.NoError(t, err)
	require.Len(t, of.GetReturns(), 1)
	trace, err = f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, []string{"640.0", "100.0"}, []string{trace.GetTotal().GetValue(), trace.GetAccountedPercent()})
	require.Len(t, trace.GetCustomers(), 2, "also the one all of it came back from")
	drill, err := f.records("lead1", labLead).StartRecallDrill(t.Context(), &inventoryv1.StartRecallDrillRequest{RequestId: request(), Subject: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, int32(2), drill.GetShipments())
	require.True(t, drill.GetRecounted())
	require.Equal(t, "100.0", drill.GetAccountedPercent())
	f.balanced()
	require.Equal(t, 2, f.events("ReturnReceived"))
	require.Equal(t, 2, f.events("ReturnDecided"))

	months, err := f.records("office1", office).ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: inventoryv1.BalanceBy_BALANCE_BY_MONTH})
	require.NoError(t, err)
	require.Equal(t, []string{"740.0", "940.0"}, []string{months.GetBalances()[0].GetReturned().GetValue(), months.GetBalances()[0].GetShipped().GetValue()})
	runs, err := f.records("office1", office).ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: inventoryv1.BalanceBy_BALANCE_BY_RUN})
	require.NoError(t, err)
	require.Equal(t, []string{"640.0", "640.0", "740.0", "0.0"}, []string{
		runs.GetBalances()[0].GetReceived().GetValue(), runs.GetBalances()[0].GetPacked().GetValue(), runs.GetBalances()[0].GetReturned().GetValue(), runs.GetBalances()[0].GetUnexplained().GetValue(),
	})
	kinds := map[inventoryv1.TraceEventKind]int64{}
	now := f.clock.Now()
	happened, err := f.records("office1", office).ListTraceEvents(t.Context(), &inventoryv1.ListTraceEventsRequest{
		FromDate: now.AddDate(0, 0, -1).Format(time.DateOnly), ThroughDate: now.AddDate(0, 0, 1).Format(time.DateOnly), PageSize: 1000,
	})
	require.NoError(t, err)
	for _, e := range happened.GetEvents() {
		if e.GetJars() > 0 && e.GetLotCode() == lot.GetCode() {
			kinds[e.GetKind()] += e.GetJars()
		}
	}
	require.Equal(t, map[inventoryv1.TraceEventKind]int64{
		inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PACKED: 640, inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RETURNED: 740,
		inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RESTOCKED: 200, inventoryv1.TraceEventKind_TRACE_EVENT_KIND_LOST: 100,
	}, kinds)
}

// A hold placed while honey was with a customer, or waits, keeps it from being sold again; it does not keep it from being destroyed.
func TestWhatIsMadeOfHeldHoneyIsNotRestocked(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.packed()
	sent := f.sent(lot.GetName(), 640)
	hold := f.hold(f.wh, 1, inventoryv1.HoldCode_HOLD_CODE_RECALL)
	require.Len(t, f.openHolds(), 1, "the lot was sold out: nothing in the house is made of the barrel")
	back, err := f.receive(sent.GetName(), lot.GetName(), 600)
	require.NoError(t, err)
	_, err = f.decideReturn(back.GetName(), restocked, 10)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"hold": hold.GetName()})
	require.ErrorContains(t, err, "something in what North Mill Bakery sent back of lot "+lot.GetCode()+" is on hold")
	_, err = f.decideReturn(back.GetName(), destroyed, 10)
	require.NoError(t, err)
	_, err = f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: hold.GetName(), Reason: "the screen is negative"})
	require.NoError(t, err)
	_, err = f.decideReturn(back.GetName(), restocked, 10)
	require.NoError(t, err)

	// Now the lot has jars: a hold of the barrel reaches it, and may end for the lot alone.
	f.hold(f.wh, 1, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	open := f.openHolds()
	require.Len(t, open, 2, "what waits is held anyway")
	_, err = f.decideReturn(back.GetName(), restocked, 10)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, nil)
	_, err = f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: open[lot.GetName()].GetName(), Reason: "these jars were tasted"})
	require.NoError(t, err)
	_, err = f.decideReturn(back.GetName(), restocked, 10)
	require.NoError(t, err)
	require.Equal(t, int64(20), f.onHand(lot.GetName()))
	f.balanced()
}

// However many hands unload at once, and decide at once: never more than the shipment carried.
func TestReturnsAtOnceNeverExceedTheShipment(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.packed()
	sent := f.sent(lot.GetName(), 100, &inventoryv1.BulkLine{Place: item(3)})
	var jars, drums, put atomic.Int64
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if back, err := f.receive(sent.GetName(), lot.GetName(), 15); err == nil {
				jars.Add(back.GetJars())
				for range 2 {
					wg.Go(func() {
						if _, err := f.decideReturn(back.GetName(), restocked, 10); err == nil {
							put.Add(10)
						}
					})
				}
			}
		})
		wg.Go(func() {
			if _, err := f.receive(sent.GetName(), item(3), 0); err == nil {
				drums.Add(1)
			}
		})
	}
	wg.Wait()
	require.Equal(t, []int64{90, 1, 60}, []int64{jars.Load(), drums.Load(), put.Load()})
	require.Equal(t, int64(600), f.onHand(lot.GetName()))
	house := f.balanced()
	require.Equal(t, "10.0", house.GetShipped().GetValue())
	require.Equal(t, "670.0", house.GetReturned().GetValue())
}

func TestAPalletComesBackWholeAndABarrelByWeight(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.packed()
	p, err := f.packing("line1", line).BuildPallet(t.Context(), &inventoryv1.BuildPalletRequest{RequestId: request(), Lines: []*inventoryv1.PalletLine{{PackLot: lot.GetName(), Jars: 480}}})
	require.NoError(t, err)
	bring := func(req *inventoryv1.ReceiveReturnRequest) (*inventoryv1.ReceiveReturnResponse, error) {
		req.RequestId, req.Reason = request(), "not ordered"
		return f.sales("wh1", warehouse).ReceiveReturn(t.Context(), req)
	}
	_, err = bring(&inventoryv1.ReceiveReturnRequest{Pallet: "pallets/" + p.GetSscc()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": p.GetName(), "state": "IN_HOUSE"})
	require.ErrorContains(t, err, "pallet "+p.GetSscc()+" has not left the house")
	sent, err := f.line.Ship(t.Context(), &inventoryv1.ShipRequest{
		RequestId: request(), Customer: "Creekside Grocers", RecallContact: "555 0101", Carrier: "c", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Pallets: []string{p.GetName()}, BulkLines: []*inventoryv1.BulkLine{{Place: item(3)}},
	})
	require.NoError(t, err)
	_, err = bring(&inventoryv1.ReceiveReturnRequest{Pallet: "pallets/" + p.GetSscc(), Place: lot.GetName(), Jars: 1})
	rpctest.Faults(t, err, "place")
	_, err = bring(&inventoryv1.ReceiveReturnRequest{Place: item(3), Jars: 1})
	rpctest.Faults(t, err, "shipment", "jars")
	_, err = bring(&inventoryv1.ReceiveReturnRequest{Shipment: sent.GetName(), Place: lot.GetName(), Mass: lb("1.0")})
	rpctest.Faults(t, err, "mass")
	made, err := bring(&inventoryv1.ReceiveReturnRequest{Pallet: "pallets/" + p.GetSscc()})
	require.NoError(t, err)
	require.Equal(t, []string{p.GetName(), sent.GetName()}, []string{made.GetReturns()[0].GetPallet(), made.GetReturns()[0].GetShipment()})
	require.Equal(t, int64(480), made.GetReturns()[0].GetJars())
	_, err = bring(&inventoryv1.ReceiveReturnRequest{Pallet: "pallets/" + p.GetSscc()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RETURNED"})

	made, err = bring(&inventoryv1.ReceiveReturnRequest{Shipment: sent.GetName(), Place: item(3), Mass: lb("240.0")})
	require.NoError(t, err)
	drum := made.GetReturns()[0]
	_, err = bring(&inventoryv1.ReceiveReturnRequest{Shipment: sent.GetName(), Place: item(3), Mass: lb("400.1")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "0.1"})
	decide := func(outcome inventoryv1.ReturnOutcome, charge string, mass *typev1.Mass) (*inventoryv1.CustomerReturn, error) {
		return f.sales("office1", office).DecideReturn(t.Context(), &inventoryv1.DecideReturnRequest{
			RequestId: request(), Name: drum.GetName(), Outcome: outcome, Charge: charge, Mass: mass, Reason: "sealed and sound",
		})
	}
	_, err = decide(restocked, "", nil)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "charge"})
	require.ErrorContains(t, err, "what Creekside Grocers sent back came back in bulk: name the charge of the tank it is poured into")
	tank := f.charge("T2", "0").GetName()
	_, err = decide(destroyed, tank, nil)
	rpctest.Faults(t, err, "charge")
	_, err = decide(restocked, tank, lb("200.0"))
	require.NoError(t, err)
	drum, err = decide(destroyed, "", nil)
	require.NoError(t, err)
	require.Equal(t, "40.0", drum.GetDecisions()[1].GetMass().GetValue())
	charge, err := f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: tank})
	require.NoError(t, err)
	require.Equal(t, "200.0", charge.GetContent().GetValue())
	require.Equal(t, int32(1), charge.GetFigures().GetMembers())
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: tank})
	require.NoError(t, err)
	require.Equal(t, item(3), trace.GetSources()[0].GetStockItem())
	require.Len(t, trace.GetSources(), 1)
	f.balanced()

	// What was invoiced for honey that came back is taken back by one of the opposite sign.
	sale := &inventoryv1.RecordSaleRequest{
		RequestId: request(), Shipment: sent.GetName(), Kind: inventoryv1.SaleKind_SALE_KIND_PROCEEDS, Amount: dollars("2000.00"), Document: "Invoice 7", EntryDate: "2026-09-20",
	}
	desk := f.sales("office1", office)
	_, err = desk.RecordSale(t.Context(), sale)
	require.NoError(t, err)
	sale.RequestId, sale.Amount, sale.Document = request(), dollars("-1250.00"), "Credit note 7"
	credit, err := desk.RecordSale(t.Context(), sale)
	require.NoError(t, err)
	require.Equal(t, "-1250.00", credit.GetParts()[0].GetAmount().GetAmount())
	require.Equal(t, "1120.0", credit.GetParts()[0].GetMass().GetValue(), "by all it carried")
}
