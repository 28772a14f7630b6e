package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

func TestScaleIsCheckedBeforeClosing(t *testing.T) {
	t.Parallel()
	d := start(t)
	d.enrol("M-0007")
	d.newScale("2")
	ticket := d.open("M-0007")
	d.sample(d.weigh(ticket, "FC-00442"))
	closeRefused := func(message string) {
		t.Helper()
		_, err := d.clerk.CloseTicket(t.Context(), closing(ticket, 1))
		got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SCALE_CHECK_MISSING, map[string]string{"scale": "scales/2"})
		require.Equal(t, message, got.Message)
	}
	closeRefused("scale 2 was never checked: check it with the test weights, then close the ticket")

	require.True(t, d.check("2", "601.0").GetPassed(), "on the limit")
	d.clock.Advance(24 * time.Hour)
	closeRefused("scale 2 has no passing check today (the last was on 2026-09-14): check it with the test weights, then close the ticket")

	failed := d.check("2", "601.5")
	require.False(t, failed.GetPassed())
	require.Equal(t, "outside the limit: the largest error was +1.5 lb at 600.0 lb with weight CB-1, allowed ±1.0 lb", failed.GetFinding())
	closeRefused("scale 2 failed its check on 2026-09-15: use another scale until it was put right and checked again")
	_, err := d.clerk.WeighBarrel(t.Context(), usual(ticket, "FC-00443"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SCALE_CHECK_MISSING, map[string]string{"scale": "scales/2"})

	passed := d.check("2", "600.0")
	require.Equal(t, "2026-09-15", passed.GetCheckDate())
	require.Equal(t, "users/dock1", passed.GetChecker())
	d.close(ticket, 1)
}

func TestScalesListTheirNewestCheck(t *testing.T) {
	t.Parallel()
	d := start(t)
	d.newScale("2")
	d.newScale("1")
	done := d.check("2", "600.5")
	listed, err := d.member("M-0007").ListScales(t.Context(), &intakev1.ListScalesRequest{})
	require.NoError(t, err)
	require.Len(t, listed.GetScales(), 2)
	require.Equal(t, "scales/1", listed.GetScales()[0].GetName())
	require.Nil(t, listed.GetScales()[0].GetLastCheck())
	require.True(t, proto.Equal(done, listed.GetScales()[1].GetLastCheck()))
	require.Equal(t, "1.0", done.GetLoads()[1].GetTolerance().GetValue())
	require.Equal(t, "0.5", done.GetLoads()[1].GetError().GetValue())

	admin := d.as("admin1", accessv1.Role_ROLE_ADMINISTRATOR)
	_, err = admin.CreateScale(t.Context(), &intakev1.CreateScaleRequest{RequestId: id(), ScaleId: "1", Scale: listed.GetScales()[0]})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "scales/1"})
	coarse := &intakev1.Scale{
		Description: "Truck scale", Division: lb("20"), Capacity: lb("1000"), AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III,
	}
	_, err = admin.CreateScale(t.Context(), &intakev1.CreateScaleRequest{RequestId: id(), ScaleId: "3", Scale: coarse})
	rpctest.Faults(t, err, "scale.capacity")
}

func TestCheckOfAnUnknownScale(t *testing.T) {
	t.Parallel()
	d := start(t)
	req := &intakev1.RecordScaleCheckRequest{
		RequestId: id(), Scale: "scales/2", ZeroIndication: lb("0"),
		Loads: []*intakev1.CheckLoad{{WeightId: "TW-50-1", Known: lb("50"), Indication: lb("50.2")}},
	}
	_, err := d.clerk.RecordScaleCheck(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "scales/2"})
	d.newScale("2")
	_, err = d.clerk.RecordScaleCheck(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "loads[0].indication"})
	req.Loads[0].Indication.Value, req.Loads[0].Position = "50.0", "E"
	_, err = d.clerk.RecordScaleCheck(t.Context(), req)
	rpctest.Faults(t, err, "loads[0].position")
}
