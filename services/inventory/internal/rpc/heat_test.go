package rpc_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/rpctest"
)

// warm is a log of a probe from an hour on, a reading each quarter of an hour, with the temperatures given in turn.
func warm(stay string, from, hours int, warmed []string, celsius ...string) *inventoryv1.RecordTemperaturesRequest {
	req := &inventoryv1.RecordTemperaturesRequest{RequestId: request(), Name: "heatStays/" + stay, Warmed: warmed, Probe: "P1"}
	for i := range hours * 4 {
		at := fixture.Start.Add(time.Duration(from)*time.Hour + time.Duration(i)*15*time.Minute)
		req.Readings = append(req.Readings, &inventoryv1.TemperatureReading{Time: timestamppb.New(at), Celsius: celsius[i%len(celsius)]})
	}
	return req
}

func TestAStuckProbeMarksTheFillsAndHoldsTheBarrelsUntilHMFWasMeasured(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	charge := f.charge("T1", "0").GetName()
	both := []string{item(1), charge}
	got, err := f.wh.RecordTemperatures(t.Context(), warm("HR1-1", 0, 4, both, "43.9", "44", "44.1"))
	require.NoError(t, err)
	require.Len(t, got.GetHeats(), 2)
	require.False(t, got.GetHeats()[0].GetUnknown())
	require.Empty(t, got.GetHeats()[0].GetAlarms())
	before := f.events("HoldPlaced")

	for from := 4; from < 13; from += 3 {
		got, err = f.wh.RecordTemperatures(t.Context(), warm("HR1-1", from, 3, both, "44"))
		require.NoError(t, err)
	}
	for i, name := range both {
		heat := got.GetHeats()[i]
		require.Equal(t, name, heat.GetName())
		require.True(t, heat.GetUnknown())
		require.Len(t, heat.GetAlarms(), 1)
		require.Equal(t, inventoryv1.HeatAlarmKind_HEAT_ALARM_KIND_FLAT_LINE, heat.GetAlarms()[0].GetKind())
		require.Equal(t, "heatStays/HR1-1", heat.GetAlarms()[0].GetStay())
	}
	require.Equal(t, before+1, f.events("HoldPlaced"), "one hole, one hold, however long it grows")
	_, err = f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: charge, StockItem: item(1)})
	held := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"code": "QUALITY"})
	require.Contains(t, held.Message, "measure HMF")
	read, err := f.office.GetHeat(t.Context(), &inventoryv1.GetHeatRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, got.GetHeats()[0].GetUsedPercent(), read.GetUsedPercent())
	require.True(t, read.GetUnknown())
}

func TestFourFifthsOfTheHeatBudgetRaiseAnAlarmOverAllStays(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.clock.Advance(30 * 24 * time.Hour)
	for n, stay := range []string{"A", "B"} {
		req := warm(stay, 240*n, 60, []string{item(1)}, "50", "49.9")
		req.LimitCelsius = "50"
		got, err := f.wh.RecordTemperatures(t.Context(), req)
		require.NoError(t, err)
		require.Len(t, got.GetHeats()[0].GetAlarms(), n, "45 percent for each stay")
		require.False(t, got.GetHeats()[0].GetUnknown())
	}
	got, err := f.wh.GetHeat(t.Context(), &inventoryv1.GetHeatRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, inventoryv1.HeatAlarmKind_HEAT_ALARM_KIND_BUDGET, got.GetAlarms()[0].GetKind())
	require.Equal(t, "89.8", got.GetUsedPercent())
}

func TestTemperaturesAreRefusedThatCannotBe(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	req := warm("HR1-1", 0, 1, []string{item(1)}, "44", "43.9")
	_, err := f.wh.RecordTemperatures(t.Context(), req)
	require.NoError(t, err)
	// A logger sends all it has again, the newest first, some of it twice.
	again := warm("HR1-1", 0, 2, []string{item(1)}, "44", "43.9")
	slices.Reverse(again.GetReadings())
	again.Readings = append(again.GetReadings(), again.GetReadings()[0])
	_, err = f.wh.RecordTemperatures(t.Context(), again)
	require.NoError(t, err)
	logs, err := f.records("wh1", warehouse).ListTemperatures(t.Context(), &inventoryv1.ListTemperaturesRequest{Name: item(1)})
	require.NoError(t, err)
	kept := logs.GetLogs()[0].GetReadings()
	require.Len(t, kept, 8, "each once, in the order of time")
	for i, one := range kept {
		require.Equal(t, fixture.Start.Add(time.Duration(i)*15*time.Minute), one.GetTime().AsTime())
	}
	req.RequestId, req.GetReadings()[1].Celsius = request(), "43.8"
	_, err = f.wh.RecordTemperatures(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, nil)
	require.ErrorContains(t, err, "2026-09-14 15:15:00")
	_, err = f.wh.RecordTemperatures(t.Context(), warm("HR1-1", 1, 1, []string{item(3)}, "44"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "WARMS_OTHERS"})
	_, err = f.wh.RecordTemperatures(t.Context(), warm("HR1-2", 1, 1, []string{"stock/" + request()}, "44"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	late := warm("HR1-3", 24*400, 1, []string{item(1)}, "121")
	late.Readings = late.GetReadings()[:1]
	_, err = f.wh.RecordTemperatures(t.Context(), late)
	rpctest.Faults(t, err, "readings[0].celsius", "readings[0].time")
	unset := warm("HR1-3", -24*365*3, 1, []string{item(1)}, "44")
	unset.Readings = unset.GetReadings()[:1]
	_, err = f.wh.RecordTemperatures(t.Context(), unset)
	rpctest.Faults(t, err, "readings[0].time")
	require.ErrorContains(t, err, "is more than two years ago: set the clock of the probe")
	_, err = f.wh.GetHeat(t.Context(), &inventoryv1.GetHeatRequest{Name: "charges/" + request()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}
