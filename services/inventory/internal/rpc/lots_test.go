package rpc_test

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
)

// floor is a warehouse with graded barrels (see shelf), a tank and a clover label, and the people who work there.
type floor struct {
	*house
	wh, line, line2, office inventoryv1.InventoryServiceClient
}

func openFloor(t *testing.T) *floor {
	t.Helper()
	f := &floor{house: open(t)}
	f.shelf()
	f.wh, f.line, f.line2, f.office = f.as("wh1", warehouse), f.as("line1", line), f.as("line2", line), f.as("office1", office)
	for _, id := range []string{"T1", "T2"} {
		_, err := f.office.CreateTank(t.Context(), &inventoryv1.CreateTankRequest{RequestId: request(), TankId: id, Capacity: lb("8000")})
		require.NoError(t, err)
	}
	for id, rules := range map[string]*inventoryv1.ClaimRules{"CLOVER": {Variety: "clover", MinSharePercent: "45"}, "HONEY": nil} {
		_, err := f.office.CreateLabel(t.Context(), &inventoryv1.CreateLabelRequest{RequestId: request(), LabelId: id, Title: id + " 1 lb", Rules: rules, Face: face()})
		require.NoError(t, err)
		_, err = f.as("lablead1", labLead).ApproveLabel(t.Context(), &inventoryv1.ApproveLabelRequest{RequestId: request(), Name: "labels/" + id, Evidence: "proof of 14 September"})
		require.NoError(t, err)
	}
	return f
}

func face() *inventoryv1.LabelFace {
	return &inventoryv1.LabelFace{NetOunces: "16", NetGrams: "454", Origin: "Product of USA", InfantCaution: true}
}

func (f *floor) charge(tank, heel string, picks ...string) *inventoryv1.Charge {
	f.t.Helper()
	c, err := f.wh.OpenCharge(f.t.Context(), &inventoryv1.OpenChargeRequest{
		RequestId: request(), Tank: "tanks/" + tank, Heel: lb(heel), Picks: picks, Rules: &inventoryv1.ClaimRules{Variety: "clover", MinSharePercent: "45"},
	})
	require.NoError(f.t, err)
	return c
}

func (f *floor) fill(charge string, barrels ...int) *inventoryv1.Charge {
	f.t.Helper()
	var c *inventoryv1.Charge
	for _, n := range barrels {
		var err error
		c, err = f.wh.FillCharge(f.t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: charge, StockItem: item(n)})
		require.NoError(f.t, err)
	}
	return c
}

func (f *floor) start(charge, label string) *inventoryv1.PackLot {
	f.t.Helper()
	f.clear("L1")
	lot, err := f.line.StartPackLot(f.t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: charge, Label: "labels/" + label, Line: "L1"})
	require.NoError(f.t, err)
	return lot
}

func (f *floor) draw(lot, charge, mass string) (*inventoryv1.PackLot, error) {
	return f.line.DrawPackLot(f.t.Context(), &inventoryv1.DrawPackLotRequest{RequestId: request(), Name: lot, Charge: charge, Mass: lb(mass)})
}

func (f *floor) lose(from, mass string, code inventoryv1.LossCode) {
	f.t.Helper()
	_, err := f.wh.RecordLoss(f.t.Context(), &inventoryv1.RecordLossRequest{RequestId: request(), From: from, Code: code, Mass: lb(mass), Reason: "measured"})
	require.NoError(f.t, err)
}

func (f *floor) balanced() *inventoryv1.MassBalance {
	f.t.Helper()
	b, err := f.office.GetMassBalance(f.t.Context(), &inventoryv1.GetMassBalanceRequest{})
	require.NoError(f.t, err)
	require.Equal(f.t, "0.0", b.GetDifference().GetValue(), b)
	return b
}

// Bad day: the blend lead takes another barrel than the planned one.
func TestASubstituteIsOnlyTakenWithAReasonAndIsCountedAnew(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0", item(1), item(3))
	_, err := f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(2)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "replaces", "drum": "FC-00002"})
	f.fill(c.GetName(), 1)
	c, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{
		RequestId: request(), Name: c.GetName(), StockItem: item(2), Replaces: item(3), Reason: "3 is behind the rack",
	})
	require.NoError(t, err)
	require.Equal(t, "50.0", c.GetFigures().GetSharePercent(), "still inside the rules")
	require.Empty(t, c.GetFigures().GetBreaches())
	require.Equal(t, "17.7", c.GetFigures().GetMoisturePercent())
	require.Empty(t, c.GetOpenPicks())
	require.Len(t, c.GetSubstitutions(), 1)
	require.Equal(t, item(3), c.GetSubstitutions()[0].GetPlannedItem())
	require.Equal(t, "users/wh1", c.GetSubstitutions()[0].GetActor())
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(4), Replaces: item(1), Reason: "1 leaks"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": item(1), "state": "NOT_PICKED"})
	require.ErrorContains(t, err, "drum FC-00001 is not an open pick of charge "+c.GetCode())
}

// What a substitute does to the blend is told while it can still be left standing, for all that is yet to come.
func TestASubstituteThatBreaksARuleIsConfirmed(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c, err := f.wh.OpenCharge(t.Context(), &inventoryv1.OpenChargeRequest{
		RequestId: request(), Tank: "tanks/T1", Heel: lb("0"), Picks: []string{item(1), item(3)}, Rules: &inventoryv1.ClaimRules{MaxMoisturePercent: "17.5"},
	})
	require.NoError(t, err)
	require.EqualValues(t, 2, c.GetPlannedFigures().GetBarrels(), "nothing is in yet")
	require.Empty(t, c.GetPlannedFigures().GetBreaches())
	wetter := &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(2), Replaces: item(1), Reason: "1 leaks"}
	_, err = f.wh.FillCharge(t.Context(), wetter)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "confirm_breach", "drum": "FC-00002", "limit": "MAX_MOISTURE", "value": "17.7", "allowed": "17.5"})
	require.ErrorContains(t, err, "with drum FC-00002, and all that is still planned, water is 17.7 % and may be at most 17.5 %")
	read, err := f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(c, read), "nothing went in")
	wetter.ConfirmBreach = true
	c, err = f.wh.FillCharge(t.Context(), wetter)
	require.NoError(t, err)
	require.Equal(t, "17.7", c.GetPlannedFigures().GetMoisturePercent())
	require.Len(t, c.GetPlannedFigures().GetBreaches(), 1)
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(4), Replaces: item(3), Reason: "3 leaks too"})
	require.NoError(t, err, "what was broken before is not asked about again")
}

// Bad day: the heel was forgotten; the books and the tank differ by 212 lb until somebody explains it.
func TestAForgottenHeelStopsTheRunUntilItIsExplained(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	first := f.charge("T1", "0")
	f.fill(first.GetName(), 1)
	lot := f.start(first.GetName(), "CLOVER")
	_, err := f.draw(lot.GetName(), first.GetName(), "428.0")
	require.NoError(t, err)
	_, err = f.wh.OpenCharge(t.Context(), &inventoryv1.OpenChargeRequest{RequestId: request(), Tank: "tanks/T1", Heel: lb("212.1")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "0.1"})
	require.ErrorContains(t, err, "charge "+first.GetCode()+" holds 212.0 lb by the books and 212.1 lb cannot be taken from it: 0.1 lb more is unexplained")

	second := f.charge("T1", "0")
	require.Equal(t, "212.0", second.GetPreviousUnexplained().GetValue())
	require.Equal(t, "212.0", f.balanced().GetUnexplained().GetValue())
	f.fill(second.GetName(), 3)
	lot2 := f.start(second.GetName(), "CLOVER")
	_, err = f.draw(lot2.GetName(), second.GetName(), "852.0")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "212.0", "resource": second.GetName()})
	require.ErrorContains(t, err, "charge "+second.GetCode()+" holds 640.0 lb by the books and 852.0 lb cannot be taken from it: 212.0 lb more is unexplained")
	_, err = f.wh.CloseCharge(t.Context(), &inventoryv1.CloseChargeRequest{RequestId: request(), Name: first.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "212.0"})
	_, err = f.draw(lot.GetName(), first.GetName(), "100.0")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "EARLIER"})
	require.ErrorContains(t, err, "tank T1 was filled anew since charge "+first.GetCode())

	second, err = f.wh.CorrectHeel(t.Context(), &inventoryv1.CorrectHeelRequest{RequestId: request(), Name: second.GetName(), Mass: lb("212.0"), Reason: "dipped again"})
	require.NoError(t, err)
	require.Equal(t, "0.0", second.GetPreviousUnexplained().GetValue())
	require.Equal(t, int32(2), second.GetFigures().GetMembers(), "the member of the heel is in it")
	_, err = f.draw(lot2.GetName(), second.GetName(), "852.0")
	require.NoError(t, err)
	for _, c := range []*inventoryv1.Charge{first, second} {
		closed, err := f.wh.CloseCharge(t.Context(), &inventoryv1.CloseChargeRequest{RequestId: request(), Name: c.GetName()})
		require.NoError(t, err)
		require.Equal(t, inventoryv1.LotState_LOT_STATE_CLOSED, closed.GetState())
	}
	require.Equal(t, "0.0", f.balanced().GetUnexplained().GetValue())
}

// Bad day: the share of the floral source on the label fell below its rule.
func TestTheLineDoesNotStartUnderALabelTheBlendDoesNotKeep(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	got := f.fill(c.GetName(), 1, 3, 5, 7, 2, 4, 6, 8, 10)
	require.Equal(t, []inventoryv1.BlendLimit{inventoryv1.BlendLimit_BLEND_LIMIT_MIN_SHARE}, got.GetFigures().GetBreaches())
	_, err := f.line.StartPackLot(t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: c.GetName(), Label: "labels/CLOVER", Line: "L1"})
	refused := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"limit": "MIN_SHARE", "value": "44.44", "allowed": "45.0"})
	require.Contains(t, refused.Message, "charge "+c.GetCode()+" may not be packed as labels/CLOVER: the share of the source is 44.44 %")
	f.start(c.GetName(), "HONEY")
	_, err = f.line.StartPackLot(t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: c.GetName(), Label: "labels/NONE", Line: "L1"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "labels/NONE"})
}

// Bad day: the line goes on from another tank under the same lot code.
func TestASecondTankInALotIsConfirmedByAnotherPersonAndWidensTheRecall(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	one, two := f.charge("T1", "0"), f.charge("T2", "0")
	f.fill(one.GetName(), 1)
	f.fill(two.GetName(), 3, 5)
	lot := f.start(one.GetName(), "CLOVER")
	_, err := f.draw(lot.GetName(), one.GetName(), "640.0")
	require.NoError(t, err)
	req := &inventoryv1.DrawPackLotRequest{RequestId: request(), Name: lot.GetName(), Charge: two.GetName(), Mass: lb("360.0")}
	_, err = f.line.DrawPackLot(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "confirm_further_charge"})
	req.ConfirmFurtherCharge, req.Reason = true, "tank ran dry in the middle of the run"
	_, err = f.line.DrawPackLot(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/line1"})
	lot, err = f.line2.DrawPackLot(t.Context(), req)
	require.NoError(t, err)
	require.Equal(t, []string{one.GetName(), two.GetName()}, lot.GetCharges())
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: "packLots/" + lot.GetCode()})
	require.NoError(t, err)
	require.Len(t, trace.GetSources(), 3)
	require.Equal(t, "1000.0", trace.GetTotal().GetValue())
}

// Bad day: an auditor holds up a jar.
func TestAJarIsTracedToItsMembersAndItsBarrelsToEveryCustomer(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	first := f.charge("T1", "0")
	f.fill(first.GetName(), 1, 3)
	a := f.start(first.GetName(), "CLOVER")
	_, err := f.draw(a.GetName(), first.GetName(), "1080.0")
	require.NoError(t, err)
	_, err = f.line.ReturnRework(t.Context(), &inventoryv1.ReturnReworkRequest{RequestId: request(), Name: a.GetName(), Charge: first.GetName(), Mass: lb("20.0")})
	require.NoError(t, err)
	f.lose(a.GetName(), "10.0", inventoryv1.LossCode_LOSS_CODE_FILTER)
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: a.GetName(), Jars: 1000, MeanNet: lb("1.02")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "30.0"})
	require.ErrorContains(t, err, "lot "+a.GetCode()+" cannot be reconciled: 30.0 lb is unexplained")
	a, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: a.GetName(), Jars: 1000, MeanNet: lb("1.05")})
	require.NoError(t, err)
	require.Equal(t, int64(1000), a.GetJarsOnHand())

	second := f.charge("T1", "220.0")
	f.fill(second.GetName(), 5)
	b := f.start(second.GetName(), "CLOVER")
	_, err = f.draw(b.GetName(), second.GetName(), "860.0")
	require.NoError(t, err)
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: b.GetName(), Jars: 860, MeanNet: lb("1.0")})
	require.NoError(t, err)
	ship := func(customer string, lines ...*inventoryv1.ShipmentLine) *inventoryv1.Shipment {
		s, err := f.line.Ship(t.Context(), &inventoryv1.ShipRequest{RequestId: request(), Customer: customer, RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: lines})
		require.NoError(t, err)
		return s
	}
	north := ship("North Mill Bakery", &inventoryv1.ShipmentLine{PackLot: a.GetName(), Jars: 600})
	require.Equal(t, "630.0", north.GetLines()[0].GetMass().GetValue())
	ship("Creekside Grocers", &inventoryv1.ShipmentLine{PackLot: a.GetName(), Jars: 400}, &inventoryv1.ShipmentLine{PackLot: b.GetName(), Jars: 430})
	_, err = f.line.Ship(t.Context(), &inventoryv1.ShipRequest{
		RequestId: request(), Customer: "X", RecallContact: "555 0100", Carrier: "Y", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: b.GetName(), Jars: 431}},
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})

	jar, err := f.as("auditor1", accessv1.Role_ROLE_AUDITOR).Trace(t.Context(), &inventoryv1.TraceRequest{Name: "packLots/" + b.GetCode()})
	require.NoError(t, err)
	require.Equal(t, b.GetName(), jar.GetName())
	require.Equal(t, "860.0", jar.GetTotal().GetValue())
	var from []string
	for _, s := range jar.GetSources() {
		from = append(from, fmt.Sprint(s.GetMass().GetValue(), " of ", s.GetMember()))
	}
	require.ElementsMatch(t, []string{"110.0 of members/M-0001", "110.0 of members/M-0003", "640.0 of members/M-0000"}, from, "the heel of 220 lb is half and half")
	require.Equal(t, "100.0", jar.GetAccountedPercent())
	require.Len(t, jar.GetCustomers(), 1)
	require.Equal(t, "430.0", jar.GetCustomers()[0].GetMass().GetValue())
	require.Equal(t, []string{b.GetName()}, where(jar))

	barrel, err := f.wh.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, "640.0", barrel.GetTotal().GetValue())
	require.Equal(t, "100.0", barrel.GetAccountedPercent())
	require.Empty(t, barrel.GetSources()[0].GetMember(), "the warehouse does not learn whose it is")
	require.Len(t, barrel.GetCustomers(), 2, "both customers have some of it")
	require.ElementsMatch(t, []string{b.GetName(), "losses/FILTER"}, where(barrel))
	balance := f.balanced()
	require.Equal(t, "1480.0", balance.GetShipped().GetValue())
	require.Equal(t, "430.0", balance.GetLots().GetValue())
	require.Equal(t, "10.0", balance.GetLosses()[0].GetMass().GetValue())

	for _, unknown := range []string{"charges/7", "jars/1", "losses/FILTER", "packLots/FC0"} {
		_, err = f.wh.Trace(t.Context(), &inventoryv1.TraceRequest{Name: unknown})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": unknown})
	}
}

func where(t *inventoryv1.TraceResponse) (names []string) {
	for _, w := range t.GetElsewhere() {
		names = append(names, w.GetName())
	}
	return names
}

func TestPartsOfABarrelAddUpAndDrainIsBooked(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	split := &inventoryv1.SplitBarrelRequest{RequestId: request(), Name: item(1), Parts: []*inventoryv1.SplitPart{
		{DrumTag: "PAIL-1", Net: lb("60.0")}, {DrumTag: "PAIL-2", Net: lb("59.9")},
	}}
	made, err := f.wh.SplitBarrel(t.Context(), split)
	require.NoError(t, err)
	again, err := f.wh.SplitBarrel(t.Context(), split)
	require.NoError(t, err)
	require.True(t, proto.Equal(made, again))
	require.Equal(t, "520.1", made.GetRemaining().GetValue())
	pail, err := f.wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: made.GetStockItems()[0]})
	require.NoError(t, err)
	require.Equal(t, "60.0", pail.GetNet().GetValue())
	require.Equal(t, item(1), pail.GetSplitFrom())
	require.Equal(t, "WHITE", pail.GetColorClass(), "the certificate of the barrel is that of the pail")
	require.Equal(t, "barrels/"+fixture.ID("barrel", 1).String(), pail.GetBarrel())

	h := f.hold(f.wh, 1, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	c := f.charge("T1", "0")
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(1)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"hold": h.GetName()})
	_, err = f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: h.GetName(), Reason: "fine"})
	require.NoError(t, err)
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(1), Mass: lb("520.2")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"resource": item(1), "difference": "0.1"})
	require.ErrorContains(t, err, "drum FC-00001 holds 520.1 lb by the books and 520.2 lb cannot be taken from it")
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(1), Mass: lb("100.0")})
	require.NoError(t, err)
	left, err := f.wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, "420.1", left.GetRemaining().GetValue())
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(1), Mass: lb("416.0"), Drained: true})
	require.NoError(t, err)
	left, err = f.wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, inventoryv1.StockState_STOCK_STATE_EMPTIED, left.GetState())
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: made.GetStockItems()[1]})
	require.NoError(t, err)
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(1)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "EMPTIED"})

	trace, err := f.wh.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, "100.0", trace.GetAccountedPercent())
	require.ElementsMatch(t, []string{c.GetName(), made.GetStockItems()[0], "losses/DRAIN"}, where(trace))
	require.Equal(t, "4.1", f.balanced().GetLosses()[0].GetMass().GetValue())
	total, err := f.wh.SummarizeStock(t.Context(), &inventoryv1.SummarizeStockRequest{})
	require.NoError(t, err)
	require.Equal(t, "3260.0", total.GetTotals()[1].GetNet().GetValue(), "five whole barrels of clover and a pail")
}

func TestPumpingBetweenTanksKeepsCapacityAndBooks(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	one, two := f.charge("T1", "0"), f.charge("T2", "0")
	f.fill(one.GetName(), 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12)
	_, err := f.wh.TransferCharge(t.Context(), &inventoryv1.TransferChargeRequest{RequestId: request(), Name: one.GetName(), ToCharge: two.GetName(), Mass: lb("7680.1")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "0.1"})
	require.ErrorContains(t, err, "charge "+one.GetCode()+" holds 7,680.0 lb by the books and 7,680.1 lb cannot be taken from it")
	got, err := f.wh.TransferCharge(t.Context(), &inventoryv1.TransferChargeRequest{RequestId: request(), Name: one.GetName(), ToCharge: two.GetName(), Mass: lb("1000.1")})
	require.NoError(t, err)
	require.Equal(t, "1000.1", got.GetContent().GetValue())
	require.Equal(t, int32(12), got.GetFigures().GetBarrels())
	f.deliver(100, 3)
	for n := range 2 {
		f.fill(one.GetName(), 100+n)
	}
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: one.GetName(), StockItem: item(102)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "FULL", "capacity": "8000.0"})
	require.ErrorContains(t, err, "tank T1 holds 7,959.9 lb of at most 8,000.0 lb: 640.0 lb more does not fit")
	f.balanced()
	tanks, err := f.wh.ListTanks(t.Context(), &inventoryv1.ListTanksRequest{})
	require.NoError(t, err)
	require.Equal(t, "7959.9", tanks.GetTanks()[0].GetContent().GetValue())
	require.Equal(t, one.GetName(), tanks.GetTanks()[0].GetCharge())
}

func TestManyHandsNeverDrawMoreThanTheTankHolds(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER")
	var wg sync.WaitGroup
	for range 16 {
		wg.Go(func() {
			for range 5 {
				_, err := f.line.DrawPackLot(context.Background(), &inventoryv1.DrawPackLotRequest{RequestId: request(), Name: lot.GetName(), Charge: c.GetName(), Mass: lb("10.0")})
				if err != nil {
					require.Equal(t, "TOTAL_DISAGREES", apierr.Parse(err).Reason, err)
				}
			}
		})
	}
	wg.Wait()
	lot, err := f.line.GetPackLot(t.Context(), &inventoryv1.GetPackLotRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, "640.0", lot.GetContent().GetValue(), "64 of 80 draws of 10 lb fit")
	f.balanced()
}

func TestListsOfTheFloorPageNewestFirst(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	var charges, codes []string
	for n := 1; n <= 3; n++ {
		c := f.charge("T1", "0")
		f.fill(c.GetName(), 2*n-1)
		lot := f.start(c.GetName(), "CLOVER")
		_, err := f.draw(lot.GetName(), c.GetName(), "640.0")
		require.NoError(t, err)
		_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 640, MeanNet: lb("1.0")})
		require.NoError(t, err)
		_, err = f.line.Ship(t.Context(), &inventoryv1.ShipRequest{RequestId: request(), Customer: fmt.Sprint(n), RecallContact: "555 0100", Carrier: "c", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: 1}}})
		require.NoError(t, err)
		charges, codes = append([]string{c.GetName()}, charges...), append([]string{lot.GetCode()}, codes...)
	}
	require.Equal(t, "FC26258T103", codes[0][:len(codes[0])-1])
	var gotCharges, gotCodes, gotCustomers []string
	cr, pr, sr := &inventoryv1.ListChargesRequest{PageSize: 2, Tank: "tanks/T1"}, &inventoryv1.ListPackLotsRequest{PageSize: 2}, &inventoryv1.ListShipmentsRequest{PageSize: 2}
	for range 2 {
		c, err := f.wh.ListCharges(t.Context(), cr)
		require.NoError(t, err)
		for _, one := range c.GetCharges() {
			gotCharges = append(gotCharges, one.GetName())
		}
		cr.PageToken = c.GetNextPageToken()
		p, err := f.wh.ListPackLots(t.Context(), pr)
		require.NoError(t, err)
		for _, one := range p.GetPackLots() {
			gotCodes = append(gotCodes, one.GetCode())
		}
		pr.PageToken = p.GetNextPageToken()
		s, err := f.wh.ListShipments(t.Context(), sr)
		require.NoError(t, err)
		for _, one := range s.GetShipments() {
			gotCustomers = append(gotCustomers, one.GetCustomer())
		}
		sr.PageToken = s.GetNextPageToken()
	}
	require.Equal(t, charges, gotCharges)
	require.Equal(t, codes, gotCodes)
	require.Equal(t, []string{"3", "2", "1"}, gotCustomers)
	labels, err := f.wh.ListLabels(t.Context(), &inventoryv1.ListLabelsRequest{PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, "labels/CLOVER", labels.GetLabels()[0].GetName())
	require.NotEmpty(t, labels.GetNextPageToken())
	_, err = f.office.CreateTank(t.Context(), &inventoryv1.CreateTankRequest{RequestId: request(), TankId: "T1", Capacity: lb("1")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "tanks/T1"})
	_, err = f.office.CreateTank(t.Context(), &inventoryv1.CreateTankRequest{RequestId: request(), TankId: "T-1", Capacity: lb("1")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "tanks/T1"})
	require.ErrorContains(t, err, "there is a tank T1, and lot codes leave dashes out: jars from a tank T-1 would look as if they came from it")
	twins := make(chan error, 2)
	for _, id := range []string{"B-7", "B7"} {
		go func() {
			_, err := f.office.CreateTank(context.Background(), &inventoryv1.CreateTankRequest{RequestId: request(), TankId: id, Capacity: lb("1")})
			twins <- err
		}()
	}
	entered := 0
	for range 2 {
		if err := <-twins; err == nil {
			entered++
		} else {
			rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, nil)
		}
	}
	require.Equal(t, 1, entered, "one of two at the same moment")
	_, err = f.office.CreateTank(t.Context(), &inventoryv1.CreateTankRequest{RequestId: request(), TankId: "THE-GREAT-OLD-TANK", Capacity: lb("1")})
	rpctest.Faults(t, err, "tank_id")
	_, err = f.office.CreateLabel(t.Context(), &inventoryv1.CreateLabelRequest{RequestId: request(), LabelId: "CLOVER", Title: "again"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "labels/CLOVER"})
	_, err = f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: "charges/" + request()})
	require.Equal(t, "NOT_FOUND", apierr.Parse(err).Reason)
}
