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

func again(barrel *intakev1.Barrel, scale, gross string) *intakev1.ReweighBarrelRequest {
	return &intakev1.ReweighBarrelRequest{
		RequestId: id(), Barrel: barrel.GetName(), Gross: lb(gross), Scale: "scales/" + scale, RawIndication: gross + " lb", Stable: true,
		SealIntact: true,
	}
}

func TestMemberHasABarrelWeighedAgain(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.newScale("9")
	d.check("9", "600.0")
	before := d.deliver("M-0007", 1, 2)
	first, second := before.GetBarrels()[0], before.GetBarrels()[1]
	kept, err := d.second.ReweighBarrel(t.Context(), again(first, "9", "685.5"))
	require.NoError(t, err)
	require.False(t, kept.GetCounts())
	require.Equal(t, "642.5", kept.GetNet().GetValue())
	req := again(second, "9", "686.0")
	used, err := d.second.ReweighBarrel(t.Context(), req)
	require.NoError(t, err)
	require.True(t, used.GetCounts())
	require.Equal(t, second.GetName()+"/reweighs/1", used.GetName())
	require.Equal(t, "1.5", used.GetDifference().GetValue())
	require.Equal(t, "1.0", used.GetTolerance().GetValue())
	require.Equal(t, "644.0", used.GetNet().GetValue())
	require.Equal(t, "1.5", used.GetNetCorrection().GetValue())
	require.Equal(t, "users/dock2", used.GetWeigher())
	repeated, err := d.second.ReweighBarrel(t.Context(), req)
	require.NoError(t, err)
	require.True(t, proto.Equal(used, repeated))
	facts := d.facts()
	last := payload[*intakev1.BarrelReweighed](t, facts[len(facts)-1])
	require.True(t, proto.Equal(used, last.GetReweigh()))
	require.Equal(t, before.GetName(), last.GetTicket())
	require.True(t, proto.Equal(before, d.ticket(before.GetName())), "the ticket stays as it was")

	_, err = d.clerk.ReweighBarrel(t.Context(), again(second, "9", "690.0"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "REWEIGHED", "resource": second.GetName()})
	list := func(by intakev1.IntakeServiceClient, barrel string) ([]*intakev1.Reweigh, error) {
		listed, err := by.ListReweighs(t.Context(), &intakev1.ListReweighsRequest{Barrel: barrel})
		return listed.GetReweighs(), err
	}
	own, err := list(d.member("M-0007"), second.GetName())
	require.NoError(t, err)
	require.Len(t, own, 1)
	require.True(t, proto.Equal(used, own[0]))
	_, err = list(d.member("M-0008"), second.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": second.GetName()})

	// The scale of the re-weigh turns out wrong, so the re-weigh is in doubt like any weight of it.
	d.check("9", "603.5")
	require.Equal(t, []string{first.GetName(), second.GetName()}, d.reviews()[0].GetBarrels())
	own, err = list(d.member("M-0007"), second.GetName())
	require.NoError(t, err)
	require.True(t, own[0].GetDoubted())
	d.clock.Advance(30 * 24 * time.Hour)
	d.check("2", "600.0")
	last2, err := d.clerk.ReweighBarrel(t.Context(), again(second, "2", "684.5"))
	require.NoError(t, err, "a review lifts the time limit")
	require.Equal(t, "642.5", last2.GetNet().GetValue())
	third := d.deliver("M-0008", 10, 1).GetBarrels()[0]
	d.clock.Advance(15 * 24 * time.Hour)
	d.check("2", "600.0")
	_, err = d.clerk.ReweighBarrel(t.Context(), again(third, "2", "684.5"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_DEADLINE_PASSED, map[string]string{"ended": "2026-10-28"})
}

func TestScaleReviewIsClosedOnce(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.newScale("9")
	ticket := d.deliver("M-0007", 1, 4)
	gone := d.deliver("M-0008", 10, 1)
	barrels := ticket.GetBarrels()
	_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{RequestId: id(), Name: "drums/FC-00004", Reason: "emptied into tank 1"})
	require.NoError(t, err)
	d.check("2", "603.5")
	d.check("9", "600.0")
	d.requestVoid(gone, "")
	_, err = d.office.ApproveTicketVoid(t.Context(), approval(gone))
	require.NoError(t, err)
	review := d.reviews()[0]
	require.Len(t, review.GetBarrels(), 5)
	for i, gross := range []string{"681.0", "684.0"} {
		_, err := d.second.ReweighBarrel(t.Context(), again(barrels[i], "9", gross))
		require.NoError(t, err)
	}
	_, err = d.second.ReweighBarrel(t.Context(), again(barrels[3], "9", "681.0"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "EMPTIED"})

	resolve := func(by intakev1.IntakeServiceClient, rest string, accepted ...*intakev1.AcceptedBarrel) (*intakev1.ScaleReview, error) {
		return by.ResolveScaleReview(t.Context(), &intakev1.ResolveScaleReviewRequest{
			RequestId: id(), Name: review.GetName(), Accepted: accepted, RestNote: rest,
		})
	}
	_, err = resolve(d.office, "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "UNDECIDED", "undecided": "2"})
	_, err = resolve(d.office, "small", &intakev1.AcceptedBarrel{Barrel: barrels[0].GetName(), Note: "let it pass"})
	rpctest.Faults(t, err, "accepted")
	_, err = resolve(d.as("dock1", accessv1.Role_ROLE_OFFICE), "small")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/dock1"})
	_, err = resolve(d.as("dock2", accessv1.Role_ROLE_OFFICE), "small")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/dock2"})
	done, err := resolve(d.office, "", &intakev1.AcceptedBarrel{Barrel: barrels[2].GetName(), Note: "in the far row, within policy"},
		&intakev1.AcceptedBarrel{Barrel: barrels[3].GetName(), Note: "emptied before the check"})
	require.NoError(t, err)
	var said []string
	for _, f := range done.GetFindings() {
		said = append(said, f.GetOutcome().String()[len("FINDING_OUTCOME_"):]+" "+f.GetNet().GetValue()+" "+f.GetNetCorrection().GetValue())
	}
	require.Equal(t, []string{"REWEIGH_USED 639.0 -3.5", "ORIGINAL_KEPT 642.5 0.0", "ACCEPTED 642.5 0.0", "ACCEPTED 642.5 0.0", "WITHDRAWN 642.5 0.0"}, said)
	require.Equal(t, barrels[0].GetName()+"/reweighs/1", done.GetFindings()[0].GetReweigh())
	require.Equal(t, "users/office1", done.GetResolver())
	require.True(t, proto.Equal(done, d.reviews()[0]))
	facts := d.facts()
	require.True(t, proto.Equal(done, payload[*intakev1.ScaleReviewResolved](t, facts[len(facts)-1]).GetReview()))
	_, err = resolve(d.office, "again")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RESOLVED"})
	open, err := d.auditor.ListScaleReviews(t.Context(), &intakev1.ListScaleReviewsRequest{OpenOnly: true})
	require.NoError(t, err)
	require.Empty(t, open.GetScaleReviews())
	_, err = d.office.ResolveScaleReview(t.Context(), &intakev1.ResolveScaleReviewRequest{RequestId: id(), Name: "scaleReviews/" + id(), RestNote: "small"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}
