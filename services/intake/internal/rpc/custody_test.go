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

func TestCustodyOfASample(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 1, 1)
	sample := ticket.GetBarrels()[0].GetSample()
	lab := d.as("lab1", accessv1.Role_ROLE_LAB)
	record := func(by intakev1.IntakeServiceClient, p intakev1.Portion, kind intakev1.CustodyKind, place, seal string) (*intakev1.SampleCustody, error) {
		return by.RecordCustody(t.Context(), &intakev1.RecordCustodyRequest{
			RequestId: id(), Sample: sample, Portion: p, Kind: kind, Place: place, Seal: seal,
		})
	}
	const (
		a, c            = intakev1.Portion_PORTION_A, intakev1.Portion_PORTION_C
		sealed, moved   = intakev1.CustodyKind_CUSTODY_KIND_SEALED, intakev1.CustodyKind_CUSTODY_KIND_MOVED
		received, opens = intakev1.CustodyKind_CUSTODY_KIND_RECEIVED, intakev1.CustodyKind_CUSTODY_KIND_OPENED
	)
	_, err := record(lab, a, opens, "laboratory", "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_SEALED", "resource": sample})
	for p, seal := range map[intakev1.Portion]string{a: "S-101", c: "S-103"} {
		_, err := record(d.clerk, p, sealed, "dock", seal)
		require.NoError(t, err)
	}
	_, err = record(d.clerk, intakev1.Portion_PORTION_B, sealed, "dock", "S-101")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "seals/S-101"})
	_, err = record(d.clerk, a, moved, "laboratory", "S-101")
	require.NoError(t, err)
	d.clock.Advance(time.Hour)
	held, err := record(lab, a, received, "laboratory", "S-101")
	require.NoError(t, err)
	require.False(t, held.GetPortions()[0].GetBroken())
	require.Equal(t, "laboratory", held.GetPortions()[0].GetPlace())
	require.Equal(t, "2027-09-14", held.GetPortions()[0].GetExpireDate())
	require.NotContains(t, held.String(), "M-0007")

	// The referee's portion turns up in the laboratory without having been sent there, and then under another seal.
	for _, seal := range []string{"S-103", "S-999"} {
		_, err = record(lab, c, received, "laboratory", seal)
		require.NoError(t, err)
	}
	got, err := d.auditor.GetSampleCustody(t.Context(), &intakev1.GetSampleCustodyRequest{Sample: sample})
	require.NoError(t, err)
	require.Len(t, got.GetPortions(), 2)
	broken := got.GetPortions()[1]
	require.True(t, broken.GetBroken())
	require.Equal(t, "portion C was received at laboratory, but nobody sent it there from dock", broken.GetBrokenReason())
	require.Len(t, broken.GetEvents(), 3)
	breaks := 0
	for _, f := range d.facts() {
		if f.GetPayload().MessageName().Name() == "SampleCustodyBroken" {
			breaks++
			fact := payload[*intakev1.SampleCustodyBroken](t, f)
			require.Equal(t, broken.GetBrokenReason(), fact.GetReason())
			require.True(t, proto.Equal(broken.GetEvents()[1], fact.GetEvent()))
			require.Equal(t, sample, fact.GetSample())
			require.Equal(t, c, fact.GetPortion())
			require.True(t, proto.Equal(fact.GetEvent().GetEventTime(), fact.GetBreakTime()))
			require.True(t, proto.Equal(broken.GetEvents()[0].GetEventTime(), fact.GetSinceTime()), "it held until it was sealed at the dock")
		}
	}
	require.Equal(t, 1, breaks, "a chain breaks once")

	own, err := d.member("M-0007").GetSampleCustody(t.Context(), &intakev1.GetSampleCustodyRequest{Sample: sample})
	require.NoError(t, err)
	require.True(t, proto.Equal(got, own))
	for _, name := range []string{sample, "samples/2C4D6F8HJ"} {
		_, err = d.member("M-0008").GetSampleCustody(t.Context(), &intakev1.GetSampleCustodyRequest{Sample: name})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": name})
	}
	_, err = d.clerk.RecordCustody(t.Context(), &intakev1.RecordCustodyRequest{
		RequestId: id(), Sample: sample, Portion: a, Kind: moved, Place: "office", EventTime: timestamppb.New(morning.Add(-time.Hour)),
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "event_time"})
}
