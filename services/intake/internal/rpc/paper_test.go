package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

// The power was out from 08:00; what stands in the paper book is entered at 13:00.
func TestPaperBookAfterAPowerCut(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.clock.Advance(6 * time.Hour)
	ticket := d.open("M-0007")
	paper := func(tag, number string, change func(*intakev1.WeighBarrelRequest)) (*intakev1.Barrel, error) {
		req := usual(ticket, tag)
		req.Manual, req.Stable, req.Reason, req.PaperNumber = true, false, "power cut", number
		req.WeighTime = timestamppb.New(morning.Add(time.Hour))
		if change != nil {
			change(req)
		}
		return d.clerk.WeighBarrel(t.Context(), req)
	}
	barrel, err := paper("FC-00001", "3-0417", nil)
	require.NoError(t, err)
	require.Equal(t, "3-0417", barrel.GetPaperNumber())
	require.Equal(t, 5*time.Hour, barrel.GetRecordTime().AsTime().Sub(barrel.GetWeighTime().AsTime()), "weighed and entered are two times")
	_, err = paper("FC-00002", "3-0417", nil)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "paperWeights/3-0417"})
	_, err = paper("FC-00002", "3-0418", func(r *intakev1.WeighBarrelRequest) { r.WeighTime = nil })
	rpctest.Faults(t, err, "weigh_time")
	_, err = paper("FC-00002", "3-0418", func(r *intakev1.WeighBarrelRequest) { r.Manual, r.Stable = false, true })
	rpctest.Faults(t, err, "paper_number")
	_, err = paper("FC-00002", "book three", nil)
	rpctest.Faults(t, err, "paper_number")
	// 23:30 of the day before is within 24 hours, but not the same day.
	_, err = paper("FC-00002", "3-0418", func(r *intakev1.WeighBarrelRequest) {
		r.WeighTime = timestamppb.New(time.Date(2026, 9, 14, 4, 30, 0, 0, time.UTC))
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "weigh_time", "low": "2026-09-14"})

	d.sample(barrel)
	_, err = d.clerk.CloseTicket(t.Context(), closing(ticket, 1))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"unconfirmed": "1"})
	confirm := func(by intakev1.IntakeServiceClient, name string) (*intakev1.Barrel, error) {
		return by.ConfirmPaperWeight(t.Context(), &intakev1.ConfirmPaperWeightRequest{RequestId: id(), Barrel: name})
	}
	_, err = confirm(d.clerk, barrel.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/dock1"})
	_, err = confirm(d.as("dock1", accessv1.Role_ROLE_DOCK, accessv1.Role_ROLE_OFFICE), barrel.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/dock1"})
	confirmed, err := confirm(d.second, barrel.GetName())
	require.NoError(t, err)
	require.Equal(t, "users/dock2", confirmed.GetPaperConfirmer())
	facts := d.facts()
	require.True(t, proto.Equal(confirmed, payload[*intakev1.PaperWeightConfirmed](t, facts[len(facts)-1]).GetBarrel()))
	_, err = confirm(d.office, barrel.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CONFIRMED"})
	closed := d.close(ticket, 1)
	require.True(t, proto.Equal(confirmed, closed.GetBarrels()[0]))
	_, err = confirm(d.office, d.weigh(d.open("M-0007"), "FC-00009").GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_PAPER"})

	other := usual(d.open("M-0008"), "FC-00010")
	other.Manual, other.Reason = true, "cable broken"
	typed, err := d.second.WeighBarrel(t.Context(), other)
	require.NoError(t, err)
	var listed []string
	req := &intakev1.ListTypedWeightsRequest{FromDate: "2026-09-14", ToDate: "2026-09-14", PageSize: 1}
	for {
		page, err := d.auditor.ListTypedWeights(t.Context(), req)
		require.NoError(t, err)
		for _, b := range page.GetBarrels() {
			listed = append(listed, b.GetName()+b.GetReason()+b.GetPaperConfirmer())
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			break
		}
	}
	require.Equal(t, []string{barrel.GetName() + "power cutusers/dock2", typed.GetName() + "cable broken"}, listed)
}

// The line of a cancelled ticket can be entered again.
func TestPaperLineOfACancelledTicket(t *testing.T) {
	t.Parallel()
	d := ready(t)
	for range 2 {
		ticket := d.open("M-0007")
		req := usual(ticket, "FC-00001")
		req.Manual, req.Reason, req.PaperNumber, req.WeighTime = true, "power cut", "3-1", timestamppb.New(morning)
		_, err := d.clerk.WeighBarrel(t.Context(), req)
		require.NoError(t, err)
		_, err = d.clerk.CancelTicket(t.Context(), &intakev1.CancelTicketRequest{RequestId: id(), Name: ticket.GetName(), Reason: "read the wrong page"})
		require.NoError(t, err)
	}
}

func TestPartBarrelNeedsNoReason(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	req := usual(ticket, "FC-00001")
	req.Gross = lb("242.0")
	_, err := d.clerk.WeighBarrel(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "net"})
	req.RequestId, req.Part = id(), true
	part, err := d.clerk.WeighBarrel(t.Context(), req)
	require.NoError(t, err)
	require.True(t, part.GetPart())
	require.Empty(t, part.GetWarnings())
	require.True(t, proto.Equal(part, d.barrel(part.GetName())))
	over := usual(ticket, "FC-00002")
	over.Gross, over.Part = lb("800.0"), true
	_, err = d.clerk.WeighBarrel(t.Context(), over)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REASON_REQUIRED, map[string]string{"field": "net"})
}
