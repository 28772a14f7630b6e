package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/rpctest"
)

// packed puts 640 lb of the first barrel into as many jars.
func (f *floor) packed() *inventoryv1.PackLot {
	f.t.Helper()
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER")
	_, err := f.draw(lot.GetName(), c.GetName(), "640.0")
	require.NoError(f.t, err)
	lot, err = f.line.ClosePackLot(f.t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 640, MeanNet: lb("1.0")})
	require.NoError(f.t, err)
	return lot
}

func TestALineIsClearedBetweenTwoLots(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	start := func(name string) (*inventoryv1.PackLot, error) {
		return f.line.StartPackLot(t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: c.GetName(), Label: "labels/CLOVER", Line: name})
	}
	lot, err := start("L1")
	require.NoError(t, err, "nothing ran on it")
	_, err = start("L1")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_CLEARED"})
	require.ErrorContains(t, err, lot.GetCode())
	_, err = start("L2")
	require.NoError(t, err, "another line")

	packing := f.packing("line1", line)
	_, err = packing.RecordLineClearance(t.Context(), &inventoryv1.RecordLineClearanceRequest{RequestId: request(), Line: "L1", JarsGone: true, GlassClear: true, Cleaning: "flushed"})
	rpctest.Faults(t, err, "labels_gone")
	_, err = start("L1")
	require.Error(t, err, "what is not true clears nothing")
	f.clear("L1")
	_, err = start("L1")
	require.NoError(t, err)
	_, err = start("L1")
	require.Error(t, err, "one clearance, one lot")
	list, err := packing.ListLineClearances(t.Context(), &inventoryv1.ListLineClearancesRequest{PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, lot.GetCode(), list.GetClearances()[0].GetAfterLotCode())
	require.Equal(t, "users/line1", list.GetClearances()[0].GetClearer())
	require.Empty(t, list.GetNextPageToken())
}

func TestARunBelowItsLabelIsStoppedUntilAnotherPersonLooked(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER")
	packing := f.packing("line1", line)
	weigh := func(weights ...string) *inventoryv1.LineCheck {
		check, err := packing.CheckLine(t.Context(), &inventoryv1.CheckLineRequest{RequestId: request(), PackLot: lot.GetName(), Unit: inventoryv1.NetUnit_NET_UNIT_G, NetWeights: weights})
		require.NoError(t, err)
		return check
	}
	require.False(t, weigh("455.1", "454.6", "453.9", "455.2", "454.9").GetStopped())
	_, err := f.draw(lot.GetName(), c.GetName(), "100.0")
	require.NoError(t, err)
	stopped := weigh("453.0", "454.0", "454.2")
	require.True(t, stopped.GetStopped())
	require.Equal(t, "454.0", stopped.GetDeclared(), "by its label")
	require.Equal(t, "453.7333", stopped.GetAverage())
	_, err = f.draw(lot.GetName(), c.GetName(), "100.0")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"code": "QUALITY"})
	require.ErrorContains(t, err, "the average is below the label")
	_, err = f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: f.openHolds()[lot.GetName()].GetName(), Reason: "nozzle set"})
	require.NoError(t, err)
	_, err = f.draw(lot.GetName(), c.GetName(), "100.0")
	require.NoError(t, err)
	require.True(t, weigh("470.0", "433.9").GetStopped(), "one jar beyond the variation of 20 g")
	list, err := packing.ListLineChecks(t.Context(), &inventoryv1.ListLineChecksRequest{PackLot: lot.GetName()})
	require.NoError(t, err)
	require.Len(t, list.GetChecks(), 3)
	require.Equal(t, stopped.GetName(), list.GetChecks()[1].GetName())
}

func TestAPalletLeavesWholeOnceOrIsTakenApart(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.packed()
	packing := f.packing("line1", line)
	build := func(jars int64) (*inventoryv1.Pallet, error) {
		return packing.BuildPallet(t.Context(), &inventoryv1.BuildPalletRequest{RequestId: request(), Lines: []*inventoryv1.PalletLine{{PackLot: lot.GetName(), Jars: jars}}})
	}
	ship := func(jars int64, pallets ...string) (*inventoryv1.Shipment, error) {
		req := &inventoryv1.ShipRequest{RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Pallets: pallets}
		if jars > 0 {
			req.Lines = []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: jars}}
		}
		return f.line.Ship(t.Context(), req)
	}
	first, err := build(400)
	require.NoError(t, err)
	require.NoError(t, checkdigit.ValidGS1(first.GetSscc()))
	require.Equal(t, lot.GetCode(), first.GetLines()[0].GetLotCode())
	second, err := build(200)
	require.NoError(t, err)
	require.NotEqual(t, first.GetSscc(), second.GetSscc())
	_, err = build(41)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})
	require.ErrorContains(t, err, "lot "+lot.GetCode()+" has 40 jars on no pallet, of 640 on hand: 41 cannot be taken")
	_, err = ship(41)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})

	hold, err := f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), Place: lot.GetName(), Code: inventoryv1.HoldCode_HOLD_CODE_RECALL, Reason: "glass found"})
	require.NoError(t, err)
	_, err = build(1)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"code": "RECALL"})
	_, err = ship(0, first.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"code": "RECALL"})
	_, err = f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: hold.GetName(), Reason: "sieved"})
	require.NoError(t, err)

	sent, err := ship(40, "pallets/"+first.GetSscc())
	require.NoError(t, err)
	require.Equal(t, []string{first.GetName()}, sent.GetPallets())
	require.Equal(t, []string{first.GetSscc()}, sent.GetPalletCodes())
	again, err := f.line.GetShipment(t.Context(), &inventoryv1.GetShipmentRequest{Name: sent.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(sent, again), "%v\n%v", sent, again)
	_, err = f.line.GetShipment(t.Context(), &inventoryv1.GetShipmentRequest{Name: "shipments/" + request()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	require.Len(t, sent.GetLines(), 2)
	_, err = ship(0, first.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "SHIPPED"})
	_, err = packing.BreakPallet(t.Context(), &inventoryv1.BreakPalletRequest{RequestId: request(), Name: first.GetName(), Reason: "by mistake"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": first.GetName(), "state": "SHIPPED"})
	require.ErrorContains(t, err, "pallet "+first.GetSscc()+" is shipped and cannot be taken apart")
	read, err := packing.GetPallet(t.Context(), &inventoryv1.GetPalletRequest{Name: "pallets/" + first.GetSscc()})
	require.NoError(t, err)
	require.Equal(t, sent.GetName(), read.GetShipment(), "one step forward")
	require.Equal(t, "North Mill Bakery", read.GetCustomer())

	here, err := packing.ListPallets(t.Context(), &inventoryv1.ListPalletsRequest{InHouseOnly: true, PackLot: lot.GetName()})
	require.NoError(t, err)
	require.Len(t, here.GetPallets(), 1)
	broken, err := packing.BreakPallet(t.Context(), &inventoryv1.BreakPalletRequest{RequestId: request(), Name: second.GetName(), Reason: "the customer wants half"})
	require.NoError(t, err)
	require.Equal(t, inventoryv1.PalletState_PALLET_STATE_TAKEN_APART, broken.GetState())
	_, err = ship(0, second.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "TAKEN_APART"})
	_, err = ship(200)
	require.NoError(t, err, "they stand loose again")
	all, err := packing.ListPallets(t.Context(), &inventoryv1.ListPalletsRequest{})
	require.NoError(t, err)
	require.Len(t, all.GetPallets(), 2)
	events, err := f.records("auditor1", accessv1.Role_ROLE_AUDITOR).ListTraceEvents(t.Context(), &inventoryv1.ListTraceEventsRequest{FromDate: "2026-09-01", ThroughDate: "2026-12-31", PageSize: 1000})
	require.NoError(t, err)
	var stacked []string
	for _, e := range events.GetEvents() {
		if e.GetKind() == inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLETISED {
			stacked = append(stacked, e.GetSscc())
		}
	}
	require.ElementsMatch(t, []string{first.GetSscc(), second.GetSscc()}, stacked)
	ends := map[inventoryv1.TraceEventKind]string{}
	for _, e := range events.GetEvents() {
		if e.GetKind() == inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TAKEN_APART || e.GetKind() == inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLET_SHIPPED {
			ends[e.GetKind()] = e.GetSscc() + " " + e.GetCustomer()
		}
	}
	require.Equal(t, map[inventoryv1.TraceEventKind]string{
		inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TAKEN_APART:    second.GetSscc() + " ",
		inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLET_SHIPPED: first.GetSscc() + " North Mill Bakery",
	}, ends)
	f.balanced()
}

func TestBalancesAddUpByRunTankAndMonth(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER")
	_, err := f.draw(lot.GetName(), c.GetName(), "600.0")
	require.NoError(t, err)
	_, err = f.line.ReturnRework(t.Context(), &inventoryv1.ReturnReworkRequest{RequestId: request(), Name: lot.GetName(), Charge: c.GetName(), Mass: lb("10.0")})
	require.NoError(t, err)
	f.lose(lot.GetName(), "20.0", inventoryv1.LossCode_LOSS_CODE_FLUSH)
	f.writtenOff(lot.GetName(), "3.0")
	records := f.records("auditor1", accessv1.Role_ROLE_AUDITOR)
	read := func(by inventoryv1.BalanceBy) []*inventoryv1.Balance {
		list, err := records.ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: by})
		require.NoError(t, err)
		return list.GetBalances()
	}
	require.Equal(t, "567.0", read(inventoryv1.BalanceBy_BALANCE_BY_RUN)[0].GetClosing().GetValue(), "drawn and not yet in jars")
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 567, MeanNet: lb("1.0")})
	require.NoError(t, err)
	_, err = f.line.Ship(t.Context(), &inventoryv1.ShipRequest{RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "c", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: 67}}})
	require.NoError(t, err)

	run := read(inventoryv1.BalanceBy_BALANCE_BY_RUN)[0]
	require.Equal(t, []string{"600.0", "10.0", "567.0", "0.0", "3.0", "0.5"}, []string{
		run.GetReceived().GetValue(), run.GetPassedOn().GetValue(), run.GetPacked().GetValue(), run.GetClosing().GetValue(), run.GetUnexplained().GetValue(), run.GetUnexplainedPercent(),
	})
	require.False(t, run.GetOverLimit(), "exactly half a percent")
	require.Equal(t, "96.1", run.GetYieldPercent())
	require.Equal(t, lot.GetCode(), run.GetTitle())

	// The tank is filled anew as if it were empty: what the books say was left stays open.
	f.charge("T1", "0")
	tank := read(inventoryv1.BalanceBy_BALANCE_BY_TANK)[1]
	require.Equal(t, []string{"650.0", "600.0", "0.0", "50.0", "50.0"}, []string{
		tank.GetReceived().GetValue(), tank.GetPassedOn().GetValue(), tank.GetClosing().GetValue(), tank.GetOpenDifference().GetValue(), tank.GetUnexplained().GetValue(),
	})
	require.True(t, tank.GetOverLimit())

	months := read(inventoryv1.BalanceBy_BALANCE_BY_MONTH)
	require.Len(t, months, 1)
	house := f.balanced()
	month := months[0]
	require.Equal(t, "2026-09", month.GetName())
	require.Equal(t, house.GetReceived().GetValue(), month.GetReceived().GetValue())
	require.Equal(t, "67.0", month.GetShipped().GetValue())
	require.Equal(t, "53.0", month.GetUnexplained().GetValue())
	require.Len(t, month.GetLosses(), 2)

	// Jars that break after the run was closed were packed; on the last evening of the month they are of that month, on the next day not.
	gone := func(code inventoryv1.LossCode, jars int64) error {
		_, err := f.line.RecordLoss(t.Context(), &inventoryv1.RecordLossRequest{RequestId: request(), From: lot.GetName(), Code: code, Jars: jars, Reason: "a shelf gave way"})
		return err
	}
	f.clock.Advance(time.Date(2026, 10, 1, 4, 59, 0, 0, time.UTC).Sub(f.clock.Now()))
	require.NoError(t, gone(inventoryv1.LossCode_LOSS_CODE_BROKEN, 30))
	f.clock.Advance(time.Minute)
	require.NoError(t, gone(inventoryv1.LossCode_LOSS_CODE_DESTROYED, 20))
	require.Equal(t, "567.0", read(inventoryv1.BalanceBy_BALANCE_BY_RUN)[0].GetPacked().GetValue())
	require.Equal(t, "3.0", read(inventoryv1.BalanceBy_BALANCE_BY_RUN)[0].GetUnexplained().GetValue())
	months = read(inventoryv1.BalanceBy_BALANCE_BY_MONTH)
	require.Len(t, months, 2)
	october, september := months[0], months[1]
	require.Equal(t, []string{"2026-10", "2026-09"}, []string{october.GetName(), september.GetName()})
	require.Equal(t, september.GetClosing().GetValue(), october.GetOpening().GetValue())
	require.Equal(t, "20.0", october.GetLosses()[0].GetMass().GetValue())
	require.Equal(t, "30.0", september.GetLosses()[0].GetMass().GetValue())
	read1, err := f.line.GetPackLot(t.Context(), &inventoryv1.GetPackLotRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, int64(450), read1.GetJarsOnHand())
	rpctest.RefusedAs(t, gone(inventoryv1.LossCode_LOSS_CODE_BROKEN, 451), errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})
	rpctest.RefusedAs(t, gone(inventoryv1.LossCode_LOSS_CODE_FLUSH, 1), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
	_, err = f.packing("line1", line).BuildPallet(t.Context(), &inventoryv1.BuildPalletRequest{RequestId: request(), Lines: []*inventoryv1.PalletLine{{PackLot: lot.GetName(), Jars: 440}}})
	require.NoError(t, err)
	rpctest.RefusedAs(t, gone(inventoryv1.LossCode_LOSS_CODE_BROKEN, 11), errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})
	_, err = f.line.RecordLoss(t.Context(), &inventoryv1.RecordLossRequest{
		RequestId: request(), From: lot.GetName(), Code: inventoryv1.LossCode_LOSS_CODE_BROKEN, Jars: 1, Mass: lb("1.0"), Reason: "both",
	})
	rpctest.Faults(t, err, "mass")
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, "100.0", trace.GetAccountedPercent())
	require.Contains(t, where(trace), "losses/DESTROYED")
	f.balanced()

	page, err := records.ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: inventoryv1.BalanceBy_BALANCE_BY_TANK, PageSize: 1})
	require.NoError(t, err)
	next, err := records.ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: inventoryv1.BalanceBy_BALANCE_BY_TANK, PageSize: 1, PageToken: page.GetNextPageToken()})
	require.NoError(t, err)
	require.Equal(t, tank.GetName(), next.GetBalances()[0].GetName())
}
