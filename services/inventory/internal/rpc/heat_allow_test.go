package rpc_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/rpctest"
)

const yeast = "the yeast count was high: 62.8 °C for half an hour"

// stayed is readings of the last quarters of an hour, the newest last, of the first barrel.
func (f *floor) stayed(stay, limit string, celsius ...string) *inventoryv1.RecordTemperaturesRequest {
	req := &inventoryv1.RecordTemperaturesRequest{RequestId: request(), Name: "heatStays/" + stay, Warmed: []string{item(1)}, Probe: "P1", LimitCelsius: limit}
	for n, c := range celsius {
		at := f.clock.Now().Add(-time.Duration(len(celsius)-1-n) * 15 * time.Minute)
		req.Readings = append(req.Readings, &inventoryv1.TemperatureReading{Time: timestamppb.New(at), Celsius: c})
	}
	return req
}

func allowing(stay, limit string) *inventoryv1.AllowHeatRequest {
	return &inventoryv1.AllowHeatRequest{RequestId: request(), Name: "heatStays/" + stay, LimitCelsius: limit, Reason: yeast}
}

func (f *floor) allow(by inventoryv1.InventoryServiceClient, stay, limit string) *inventoryv1.HeatAllowance {
	f.t.Helper()
	made, err := by.AllowHeat(f.t.Context(), allowing(stay, limit))
	require.NoError(f.t, err)
	return made
}

func TestAStayHasALimitAndIsHeldWhereItScaldsUnallowed(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	heat, err := f.wh.RecordTemperatures(t.Context(), f.stayed("HR1", "", "48.9", "49.1", "50.3", "47.0"))
	require.NoError(t, err)
	alarm := heat.GetHeats()[0].GetAlarms()[0]
	require.Equal(t, inventoryv1.HeatAlarmKind_HEAT_ALARM_KIND_OVER_LIMIT, alarm.GetKind())
	require.Contains(t, alarm.GetSentence(), "showed up to 50.3 °C; the stay is meant to be at most 49.0 °C")
	require.False(t, heat.GetHeats()[0].GetUnknown(), "how warm it was is known")
	require.Empty(t, f.openHolds())
	_, err = f.wh.RecordTemperatures(t.Context(), f.stayed("HR1", "55", "47.0"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "LIMITED"})
	_, err = f.wh.RecordTemperatures(t.Context(), f.stayed("LINE-3", "120.1", "62.0"))
	rpctest.Faults(t, err, "limit_celsius")

	_, err = f.wh.RecordTemperatures(t.Context(), f.stayed("LINE-2", "62.7", "62.0", "62.7"))
	require.NoError(t, err)
	require.Empty(t, f.openHolds(), "a tenth of a degree below")
	f.clock.Advance(time.Hour)
	hot := f.stayed("LINE-2", "", "62.7", "62.8", "63.4", "50.0")
	heat, err = f.wh.RecordTemperatures(t.Context(), hot)
	require.NoError(t, err)
	last := heat.GetHeats()[0].GetAlarms()
	require.Equal(t, inventoryv1.HeatAlarmKind_HEAT_ALARM_KIND_SCALDING, last[len(last)-2].GetKind())
	require.Contains(t, last[len(last)-2].GetSentence(), "showed up to 63.4 °C; from 62.8 °C (145 °F)")
	hold := f.openHolds()[item(1)]
	require.Contains(t, hold.GetReason(), "too hot: ")
	_, err = f.wh.MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: "B1-R1"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"hold": hold.GetName()})
	_, err = f.office.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: hold.GetName(), Reason: "HMF measured at 11 mg/kg"})
	require.NoError(t, err)
	hot.RequestId = request()
	_, err = f.wh.RecordTemperatures(t.Context(), hot)
	require.NoError(t, err)
	require.Empty(t, f.openHolds(), "one time, one hold, however often the logger sends it")

	_, err = f.line.AllowHeat(t.Context(), allowing("LINE-2", "65"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": "heatStays/LINE-2", "state": "BEGUN"})
}

func TestAnAllowanceSaysHowHotAndWhy(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	for limit, good := range map[string]bool{"62.7": false, "62.8": true, "120": true, "120.1": false, "62.85": false, "-63": false, "hot": false, "": false} {
		_, err := f.line.AllowHeat(t.Context(), allowing("S1", limit))
		if good {
			require.NoError(t, err, limit)
			continue
		}
		rpctest.Faults(t, err, "limit_celsius")
	}
	for why, good := range map[string]bool{"": false, "  ": false, strings.Repeat("é", 300): true, strings.Repeat("é", 301): false} {
		req := allowing("S2", "62.8")
		req.Reason = why
		_, err := f.line.AllowHeat(t.Context(), req)
		if good {
			require.NoError(t, err)
			continue
		}
		rpctest.Faults(t, err, "reason")
	}
	nobody := allowing("S3", "61")
	nobody.Reason = " "
	_, err := f.line.AllowHeat(t.Context(), nobody)
	rpctest.Faults(t, err, "limit_celsius", "reason")
	nobody = allowing("s3", "62.8")
	_, err = f.line.AllowHeat(t.Context(), nobody)
	rpctest.Faults(t, err, "name")
	_, err = f.as("dock1", accessv1.Role_ROLE_DOCK).AllowHeat(t.Context(), allowing("S3", "62.8"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, nil)
}

func TestAScaldingStayIsAllowedByAnotherLogin(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	_, err := f.wh.RecordTemperatures(t.Context(), f.stayed("LINE-1", "64", "62.0"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_ALLOWED", "limit_celsius": "64.0", "from_celsius": "62.8"})
	require.ErrorContains(t, err, "another person must allow it before its first readings, and say why")
	f.allow(f.wh, "LINE-1", "70")
	_, err = f.wh.RecordTemperatures(t.Context(), f.stayed("LINE-1", "64", "62.0"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/wh1"})
	f.allow(f.line, "LINE-1", "63")
	_, err = f.wh.RecordTemperatures(t.Context(), f.stayed("LINE-1", "64", "62.0"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_ALLOWED", "allowed_celsius": "63.0"})
	require.ErrorContains(t, err, "so far at most 63.0 °C are allowed")
	require.Empty(t, f.events("TemperaturesRecorded"), "what was refused is not there")

	// The same twice is one; a lower one later weakens nothing.
	req := allowing("LINE-1", "65.5")
	first, err := f.line2.AllowHeat(t.Context(), req)
	require.NoError(t, err)
	again, err := f.line2.AllowHeat(t.Context(), req)
	require.NoError(t, err)
	require.True(t, proto.Equal(first, again))
	require.Equal(t, []string{"heatStays/LINE-1", "65.5", yeast, "users/line2"}, []string{first.GetStay(), first.GetLimitCelsius(), first.GetReason(), first.GetAllower()})
	require.Equal(t, f.clock.Now(), first.GetAllowTime().AsTime())
	f.allow(f.line2, "LINE-1", "62.8")
	require.Equal(t, 4, f.events("HeatAllowed"))

	f.clock.Advance(time.Hour)
	_, err = f.wh.RecordTemperatures(t.Context(), f.stayed("LINE-1", "64", "62.0", "63.9"))
	require.NoError(t, err)
	require.Empty(t, f.openHolds())
	f.clock.Advance(15 * time.Minute)
	_, err = f.line2.RecordTemperatures(t.Context(), f.stayed("LINE-1", "64", "64.0"))
	require.NoError(t, err, "whoever allowed it may log what comes after")
	logs, err := f.records("wh1", warehouse).ListTemperatures(t.Context(), &inventoryv1.ListTemperaturesRequest{Name: item(1)})
	require.NoError(t, err)
	log := logs.GetLogs()[0]
	require.Equal(t, []string{"users/wh1", "users/line2", yeast, "64.0"}, []string{log.GetOpener(), log.GetSecondPerson(), log.GetSecondReason(), log.GetLimitCelsius()})
	require.Len(t, log.GetAllowances(), 4)
	require.Equal(t, "users/wh1", log.GetAllowances()[0].GetAllower(), "oldest first, those that do not count as well")

	// An allowance is worth its own limit, not more.
	f.clock.Advance(30 * time.Minute)
	heat, err := f.line.RecordTemperatures(t.Context(), f.stayed("LINE-1", "", "65.5", "65.6"))
	require.NoError(t, err)
	alarms := heat.GetHeats()[0].GetAlarms()
	require.Equal(t, inventoryv1.HeatAlarmKind_HEAT_ALARM_KIND_SCALDING, alarms[len(alarms)-2].GetKind())
	require.Contains(t, alarms[len(alarms)-2].GetSentence(), "users/line2 allowed at most 65.5 °C, from ")
	require.Contains(t, f.openHolds()[item(1)].GetReason(), "showed up to 65.6 °C")
}

func TestWhatWasHotBeforeItWasAllowedIsHeld(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.allow(f.office, "LATE", "70")
	hot := f.stayed("LATE", "70", "63.0", "62.7", "62.6")
	_, err := f.wh.RecordTemperatures(t.Context(), hot)
	require.NoError(t, err, "what is so is written down")
	require.Contains(t, f.openHolds()[item(1)].GetReason(), "users/office1 allowed at most 70.0 °C, from ")
	f.allow(f.as("lead1", labLead), "BOTH", "63")
	f.clock.Advance(time.Hour)
	early := f.stayed("BOTH", "63", "62.9", "63.0")
	early.Warmed = []string{item(2)}
	_, err = f.wh.RecordTemperatures(t.Context(), early)
	require.NoError(t, err)
	require.NotContains(t, f.openHolds(), item(2))
}

func TestAllowancesAreListedWithWhoBegan(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	auditor := f.records("auditor1", accessv1.Role_ROLE_AUDITOR)
	for _, stay := range []string{"A", "B", "C"} {
		f.allow(f.line, stay, "63")
	}
	f.clock.Advance(time.Hour)
	_, err := f.wh.RecordTemperatures(t.Context(), f.stayed("B", "63", "44"))
	require.NoError(t, err)
	var stays, openers []string
	for token := ""; ; {
		found, err := auditor.ListHeatAllowances(t.Context(), &inventoryv1.ListHeatAllowancesRequest{PageSize: 2, PageToken: token})
		require.NoError(t, err)
		for _, a := range found.GetAllowances() {
			stays, openers = append(stays, a.GetStay()), append(openers, a.GetOpener())
		}
		if token = found.GetNextPageToken(); token == "" {
			break
		}
	}
	require.Equal(t, []string{"heatStays/C", "heatStays/B", "heatStays/A"}, stays)
	require.Equal(t, []string{"", "users/wh1", ""}, openers)
	one, err := auditor.ListHeatAllowances(t.Context(), &inventoryv1.ListHeatAllowancesRequest{Stay: "heatStays/A"})
	require.NoError(t, err)
	require.Len(t, one.GetAllowances(), 1)
	_, err = auditor.ListHeatAllowances(t.Context(), &inventoryv1.ListHeatAllowancesRequest{Stay: "A"})
	rpctest.Faults(t, err, "stay")
}

func TestNamesTypedInEarlierYearsStayReadable(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	_, err := f.db.Pool().Exec(t.Context(), `
		WITH s AS (INSERT INTO heat_stay (stay, create_time, limit_celsius, opener, second_person, second_reason) VALUES ('OLD', $1, 640, 'users/wh1', 'line2', 'yeast') RETURNING stay),
		     w AS (INSERT INTO heat_warmed (stay, place) SELECT stay, $2 FROM s)
		INSERT INTO heat_reading (stay, probe, time, celsius, recorder, record_time) SELECT stay, 'P1', $1, 640, 'users/wh1', $1 FROM s`, f.clock.Now(), item(1))
	require.NoError(t, err)
	f.clock.Advance(15 * time.Minute)
	heat, err := f.wh.RecordTemperatures(t.Context(), f.stayed("OLD", "64", "63.5"))
	require.NoError(t, err)
	require.Empty(t, heat.GetHeats()[0].GetAlarms())
	require.Empty(t, f.openHolds())
	logs, err := f.records("wh1", warehouse).ListTemperatures(t.Context(), &inventoryv1.ListTemperaturesRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, []string{"line2", "yeast"}, []string{logs.GetLogs()[0].GetSecondPerson(), logs.GetLogs()[0].GetSecondReason()})
}

// What a stay warms, and how warm it may be, is a person's word; the readings may be a device's.
func TestALoggerOpensNoStay(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	device := f.as("probe7", accessv1.Role_ROLE_LOGGER)
	req := f.stayed("HR7", "", "44.0", "44.1")
	_, err := device.RecordTemperatures(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": "heatStays/HR7", "state": "NOT_OPENED"})
	require.ErrorContains(t, err, "somebody of the warehouse or the line opens it with a first one")
	require.Empty(t, f.events("TemperaturesRecorded"))
	_, err = device.AllowHeat(t.Context(), allowing("HR7", "65"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, nil)
	_, err = device.GetHeat(t.Context(), &inventoryv1.GetHeatRequest{Name: item(1)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, nil)

	opened := f.stayed("HR7", "", "43.9")
	opened.Probe = "DIAL"
	_, err = f.line.RecordTemperatures(t.Context(), opened)
	require.NoError(t, err)
	_, err = device.RecordTemperatures(t.Context(), req)
	require.NoError(t, err, "what was refused is not remembered")
	logs, err := f.records("wh1", warehouse).ListTemperatures(t.Context(), &inventoryv1.ListTemperaturesRequest{Name: item(1)})
	require.NoError(t, err)
	require.Len(t, logs.GetLogs(), 2)
	both := f.as("wh7", accessv1.Role_ROLE_LOGGER, warehouse)
	_, err = both.RecordTemperatures(t.Context(), f.stayed("HR8", "", "44.0"))
	require.NoError(t, err, "who is of the warehouse besides is a person")
}
