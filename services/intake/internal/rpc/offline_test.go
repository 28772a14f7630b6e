package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

// The dock is cut off at 21:00 and its queue arrives after midnight: it is still the delivery of the day it came.
func TestQueueKeepsTheTimesOfTheDock(t *testing.T) {
	t.Parallel()
	d := ready(t)
	came := time.Date(2026, 9, 15, 2, 0, 0, 0, time.UTC)
	arrives := came.Add(4 * time.Hour)
	d.clock.Set(arrives)
	ticket, err := d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{
		RequestId: id(), Member: "members/M-0007", CropYear: 2026, OpenTime: timestamppb.New(came),
	})
	require.NoError(t, err)
	require.Equal(t, "2026-09-14", ticket.GetDeliveryDate())
	require.Equal(t, came, ticket.GetOpenTime().AsTime())
	require.Equal(t, arrives, ticket.GetRecordTime().AsTime())

	req := usual(ticket, "FC-00442")
	req.WeighTime = timestamppb.New(came.Add(time.Minute))
	barrel, err := d.clerk.WeighBarrel(t.Context(), req)
	require.NoError(t, err)
	require.Equal(t, came.Add(time.Minute), barrel.GetWeighTime().AsTime())
	require.Equal(t, arrives, barrel.GetRecordTime().AsTime())
	require.True(t, proto.Equal(barrel, d.barrel(barrel.GetName())))
	facts := d.facts()
	last := facts[len(facts)-1]
	require.Equal(t, came.Add(time.Minute), last.GetOccurTime().AsTime())
	require.Equal(t, arrives, last.GetRecordTime().AsTime())

	for _, late := range []time.Duration{-25 * time.Hour, 6 * time.Minute} {
		req := usual(ticket, "FC-00443")
		req.WeighTime = timestamppb.New(arrives.Add(late))
		_, err := d.clerk.WeighBarrel(t.Context(), req)
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "weigh_time"})
		_, err = d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{
			RequestId: id(), Member: "members/M-0007", CropYear: 2026, OpenTime: req.GetWeighTime(),
		})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "open_time"})
	}
}

// What an offline dock weighed is believed by the checks around that time, not by the newest one.
func TestLateBarrelIsJudgedByTheChecksOfItsTime(t *testing.T) {
	t.Parallel()
	d := ready(t) // checked at 12:00
	at := func(hours int) time.Time { return morning.Add(time.Duration(hours) * time.Hour) }
	d.clock.Set(at(2))
	d.check("2", "600.5") // 14:00
	d.clock.Set(at(4))
	d.check("2", "603.5") // 16:00, failed
	d.clock.Set(at(6))
	d.check("2", "600.0") // 18:00
	d.clock.Set(at(8))
	ticket := d.open("M-0007")
	weigh := func(tag string, hours int) error {
		req := usual(ticket, tag)
		req.WeighTime = timestamppb.New(at(hours))
		_, err := d.clerk.WeighBarrel(t.Context(), req)
		return err
	}
	require.NoError(t, weigh("FC-00001", 1), "between two good checks")
	got := rpctest.RefusedAs(t, weigh("FC-00002", 3), errorv1.Reason_REASON_SCALE_CHECK_MISSING, map[string]string{"scale": "scales/2"})
	require.Equal(t, "scale 2 failed its check on 2026-09-14, after this barrel was weighed: weigh it again on another scale", got.Message)
	rpctest.RefusedAs(t, weigh("FC-00003", 5), errorv1.Reason_REASON_SCALE_CHECK_MISSING, nil)
	require.NoError(t, weigh("FC-00004", 7), "after it was put right")

	d.check("2", "603.5")
	require.Len(t, d.reviews(), 1)
	require.Equal(t, []string{d.drum("FC-00004").GetOpenBarrel()}, d.reviews()[0].GetBarrels(), "the barrel of 13:00 lies between good checks")
}
