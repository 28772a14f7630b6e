package rpc_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/rpctest"
)

// made is honey of barrel 1 in every stage: a pail, a tank, the tank it was pumped to, a lot in work, and one half shipped.
type made struct {
	*floor
	pail, tank, pumped, open, closed string
}

func makeOfBarrelOne(t *testing.T) *made {
	t.Helper()
	f := &made{floor: openFloor(t)}
	split, err := f.wh.SplitBarrel(t.Context(), &inventoryv1.SplitBarrelRequest{
		RequestId: request(), Name: item(1), Parts: []*inventoryv1.SplitPart{{DrumTag: "PAIL-1", Net: lb("60.0")}},
	})
	require.NoError(t, err)
	f.pail = split.GetStockItems()[0]
	f.tank, f.pumped = f.charge("T1", "0").GetName(), f.charge("T2", "0").GetName()
	before := f.start(f.fill(f.tank, 3).GetName(), "CLOVER")
	_, err = f.draw(before.GetName(), f.tank, "100.0")
	require.NoError(t, err, "drawn before barrel 1 came in")
	f.fill(f.tank, 1)
	_, err = f.wh.TransferCharge(t.Context(), &inventoryv1.TransferChargeRequest{RequestId: request(), Name: f.tank, ToCharge: f.pumped, Mass: lb("200.0")})
	require.NoError(t, err)
	f.open, f.closed = f.start(f.tank, "CLOVER").GetName(), f.start(f.pumped, "CLOVER").GetName()
	_, err = f.draw(f.open, f.tank, "100.0")
	require.NoError(t, err)
	_, err = f.draw(f.closed, f.pumped, "100.0")
	require.NoError(t, err)
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: f.closed, Jars: 100, MeanNet: lb("1.0")})
	require.NoError(t, err)
	require.NoError(t, f.ship(f.closed, 40))
	return f
}

func (f *made) ship(lot string, jars int64) error {
	_, err := f.line.Ship(f.t.Context(), &inventoryv1.ShipRequest{
		RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: lot, Jars: jars}},
	})
	return err
}

func (f *floor) openHolds() map[string]*inventoryv1.Hold {
	f.t.Helper()
	list, err := f.office.ListHolds(f.t.Context(), &inventoryv1.ListHoldsRequest{OpenOnly: true, PageSize: 100})
	require.NoError(f.t, err)
	out := map[string]*inventoryv1.Hold{}
	for _, h := range list.GetHolds() {
		out[h.GetPlace()] = h
	}
	return out
}

func TestAResidueReachesEverythingThatIsMadeOfTheBarrel(t *testing.T) {
	t.Parallel()
	f := makeOfBarrelOne(t)
	b := fixture.Barrel{Number: 1}
	result := "outsideResults/" + request()
	facts := fixture.Apply(t, f.db, &gradingv1.ResidueSuspected{
		Result:  &gradingv1.OutsideResult{Name: result, SecondTime: timestamppb.New(f.clock.Now())},
		Samples: []string{b.Sample()}, Explanation: "a residue was found in the composite",
	})
	require.Len(t, facts, 6)
	held := f.openHolds()
	require.Len(t, held, 6, "and not the lot that was drawn before the barrel came in")
	cause := held[item(1)]
	require.Equal(t, "grading", cause.GetPlacer())
	for _, place := range []string{f.pail, f.tank, f.pumped, f.open, f.closed} {
		require.Equal(t, cause.GetName(), held[place].GetCause(), place)
		require.Equal(t, inventoryv1.HoldCode_HOLD_CODE_RESIDUE, held[place].GetCode())
	}
	rpctest.RefusedAs(t, f.ship(f.closed, 1), errorv1.Reason_REASON_ON_HOLD, map[string]string{"hold": held[f.closed].GetName(), "code": "RESIDUE"})

	_, err := f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: held[f.closed].GetName(), Reason: "the jars were tested and are clean"})
	require.NoError(t, err)
	require.NoError(t, f.ship(f.closed, 1), "released alone")
	require.Len(t, f.openHolds(), 5)

	facts = fixture.Apply(t, f.db, &gradingv1.SampleCleared{Sample: b.Sample(), Suspicions: []string{result}, Explanation: "the portion of this barrel is clean"})
	require.Len(t, facts, 5, "with the barrel all that followed is free")
	require.Empty(t, f.openHolds())
	f.balanced()
}

func TestAHeldTankAndAHeldLotTakeAndGiveNothingUntilAnotherPersonReleasesThem(t *testing.T) {
	t.Parallel()
	f := makeOfBarrelOne(t)
	hold := func(place string, code inventoryv1.HoldCode) *inventoryv1.Hold {
		h, err := f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), Place: place, Code: code, Reason: "smells of smoke"})
		require.NoError(t, err)
		return h
	}
	h := hold(f.tank, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	held := f.openHolds()
	require.Len(t, held, 5, "the tank, what it was pumped to, and three lots, the first too: it came out of the tank; no barrel and no pail")
	refused := func(err error) {
		t.Helper()
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"code": "QUALITY"})
	}
	_, err := f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: f.tank, StockItem: item(5)})
	refused(err)
	_, err = f.draw(f.open, f.tank, "1.0")
	refused(err)
	_, err = f.wh.TransferCharge(t.Context(), &inventoryv1.TransferChargeRequest{RequestId: request(), Name: f.tank, ToCharge: f.pumped, Mass: lb("1.0")})
	refused(err)
	_, err = f.line.ReturnRework(t.Context(), &inventoryv1.ReturnReworkRequest{RequestId: request(), Name: f.open, Charge: f.pumped, Mass: lb("1.0")})
	refused(err)
	_, err = f.line.StartPackLot(t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: f.tank, Label: "labels/HONEY", Line: "L1"})
	refused(err)
	_, err = f.wh.OpenCharge(t.Context(), &inventoryv1.OpenChargeRequest{RequestId: request(), Tank: "tanks/T1", Heel: lb("10.0")})
	refused(err)
	refused(f.ship(f.closed, 1))
	f.lose(f.tank, "1.0", inventoryv1.LossCode_LOSS_CODE_SPILL)
	got, err := f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: f.tank})
	require.NoError(t, err)
	require.Equal(t, h.GetName(), got.GetHolds()[0].GetName())

	next := f.charge("T1", "0")
	require.Empty(t, next.GetHolds(), "a tank said to be empty")
	_, err = f.wh.CorrectHeel(t.Context(), &inventoryv1.CorrectHeelRequest{RequestId: request(), Name: next.GetName(), Mass: lb("5.0"), Reason: "it was not"})
	require.NoError(t, err, "the books may say what is so")
	require.Equal(t, h.GetName(), f.openHolds()[next.GetName()].GetCause())

	release := &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: h.GetName(), Reason: "tasted again"}
	_, err = f.as("wh1", office).ReleaseHold(t.Context(), release)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, nil)
	_, err = f.office.ReleaseHold(t.Context(), release)
	require.NoError(t, err)
	require.Empty(t, f.openHolds())

	hold(f.closed, inventoryv1.HoldCode_HOLD_CODE_CUSTOMER)
	lot, err := f.line.GetPackLot(t.Context(), &inventoryv1.GetPackLotRequest{Name: f.closed})
	require.NoError(t, err)
	require.Len(t, lot.GetHolds(), 1)
	_, err = f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), Code: inventoryv1.HoldCode_HOLD_CODE_RECALL, Reason: "which?"})
	rpctest.Faults(t, err, "stock_item")
	_, err = f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), Place: "charges/" + request(), Code: inventoryv1.HoldCode_HOLD_CODE_RECALL, Reason: "which?"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

func TestADoubtAboutAScaleReachesContainersOnly(t *testing.T) {
	t.Parallel()
	f := makeOfBarrelOne(t)
	f.hold(f.wh, 1, inventoryv1.HoldCode_HOLD_CODE_SCALE)
	held := f.openHolds()
	require.Len(t, held, 2)
	require.Contains(t, held, f.pail)
	f.lose(f.pail, "0.4", inventoryv1.LossCode_LOSS_CODE_SPILL)
	_, err := f.wh.RecordLoss(t.Context(), &inventoryv1.RecordLossRequest{RequestId: request(), From: f.pail, Code: inventoryv1.LossCode_LOSS_CODE_FILTER, Mass: lb("59.6"), Reason: "filtered"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"code": "SCALE"})
}
