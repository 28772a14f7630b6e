package rpc_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/rpctest"
)

func TestChargesOpenedAtOnceHaveCodesOfTheirOwn(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	for _, tank := range []string{"T1", "T2"} {
		together(t, func(ctx context.Context) error {
			_, err := f.wh.OpenCharge(ctx, &inventoryv1.OpenChargeRequest{RequestId: request(), Tank: "tanks/" + tank, Heel: lb("0")})
			return err
		})
	}
	list, err := f.wh.ListCharges(t.Context(), &inventoryv1.ListChargesRequest{PageSize: 1000})
	require.NoError(t, err)
	got, want := map[string]string{}, map[string]string{}
	for _, c := range list.GetCharges() {
		got[c.GetCode()] = c.GetTank()
	}
	for n := range crowd {
		want[fmt.Sprintf("T1-26-%03d", n+1)], want[fmt.Sprintf("T2-26-%03d", n+1)] = "tanks/T1", "tanks/T2"
	}
	require.Equal(t, want, got, "each number once and none left out")
	_, err = f.db.Pool().Exec(t.Context(), `INSERT INTO charge (charge, tank, variety, min_share, picks, opener, open_time, code)
		VALUES (gen_random_uuid(), 'T1', '', 0, '{}', 'users/wh1', now(), 'T1-26-001')`)
	require.ErrorContains(t, err, "charge_code", "the database holds it too")
}

func TestAChargeGoesByItsCode(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	require.Equal(t, "T1-26-001", c.GetCode())
	f.fill(c.GetName(), 1)
	for _, name := range []string{c.GetName(), "charges/T1-26-001", "charges/t1-26-001"} {
		read, err := f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: name})
		require.NoError(t, err, name)
		require.Equal(t, c.GetName(), read.GetName())
		trace, err := f.wh.Trace(t.Context(), &inventoryv1.TraceRequest{Name: name})
		require.NoError(t, err, name)
		require.Equal(t, c.GetName(), trace.GetName())
		require.Equal(t, "640.0", trace.GetTotal().GetValue())
	}
	_, err := f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: "charges/T1-26-002"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "charges/T1-26-002"})
	_, err = f.wh.Trace(t.Context(), &inventoryv1.TraceRequest{Name: "charges/T1-26-002"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "charges/T1-26-002"})
	_, err = f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: "tanks/T1"})
	rpctest.Faults(t, err, "name")

	tanks, err := f.wh.ListTanks(t.Context(), &inventoryv1.ListTanksRequest{})
	require.NoError(t, err)
	require.Equal(t, []string{"T1-26-001", ""}, []string{tanks.GetTanks()[0].GetChargeCode(), tanks.GetTanks()[1].GetChargeCode()})
	records := f.records("auditor1", accessv1.Role_ROLE_AUDITOR)
	balances, err := records.ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: inventoryv1.BalanceBy_BALANCE_BY_TANK})
	require.NoError(t, err)
	require.Equal(t, "T1-26-001", balances.GetBalances()[0].GetTitle())
	drill, err := f.records("lead1", labLead).StartRecallDrill(t.Context(), &inventoryv1.StartRecallDrillRequest{RequestId: request(), Subject: "charges/T1-26-001"})
	require.NoError(t, err)
	require.Equal(t, c.GetName(), drill.GetSubject())

	second := f.charge("T1", "10.0")
	poured := f.happened(f.clock.Now(), f.clock.Now(), inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TRANSFERRED)
	require.Len(t, poured, 2)
	require.ElementsMatch(t, [][]string{{"T1-26-001"}, {"T1-26-001", "T1-26-002"}}, [][]string{poured[0].GetChargeCodes(), poured[1].GetChargeCodes()},
		"the barrel into the first, and from that into the second; both at one instant")
	require.Equal(t, "T1-26-002", second.GetCode())
	_, err = f.wh.PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), Place: second.GetName(), Code: inventoryv1.HoldCode_HOLD_CODE_QUALITY, Reason: "smells of smoke"})
	require.NoError(t, err)
	held := f.happened(f.clock.Now(), f.clock.Now(), inventoryv1.TraceEventKind_TRACE_EVENT_KIND_HELD)
	require.Equal(t, []string{"T1-26-002"}, held[0].GetChargeCodes())
}

// The year of a code is the one people in the house write, and numbers begin anew with it.
func TestChargesAreNumberedByTheYearOfTheHouse(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	midnight := time.Date(2027, 1, 1, 6, 0, 0, 0, time.UTC) // in Chicago
	require.Equal(t, "T1-26-001", f.charge("T1", "0").GetCode())
	f.clock.Advance(midnight.Add(-time.Second).Sub(f.clock.Now()))
	require.Equal(t, "T1-26-002", f.charge("T1", "0").GetCode())
	f.clock.Advance(time.Second)
	require.Equal(t, "T1-27-001", f.charge("T1", "0").GetCode())
	require.Equal(t, "T2-27-001", f.charge("T2", "0").GetCode())
	require.Equal(t, "T1-27-002", f.charge("T1", "0").GetCode())
}
