package rpc_test

import (
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

func (d *dock) requestVoid(ticket *intakev1.Ticket, owner string) *intakev1.Ticket {
	d.t.Helper()
	asked, err := d.clerk.RequestTicketVoid(d.t.Context(), &intakev1.RequestTicketVoidRequest{
		RequestId: id(), Name: ticket.GetName(), Reason: "closed under the wrong member", ReissueMember: owner,
	})
	require.NoError(d.t, err)
	return asked
}

func approval(ticket *intakev1.Ticket) *intakev1.ApproveTicketVoidRequest {
	return &intakev1.ApproveTicketVoidRequest{RequestId: id(), Name: ticket.GetName()}
}

// A ticket was closed under the wrong member and the truck is gone.
func TestReissueToTheRightfulOwner(t *testing.T) {
	t.Parallel()
	d := ready(t)
	wrong := d.deliver("M-0007", 442, 2)
	asked := d.requestVoid(wrong, "members/M-0008")
	require.Equal(t, intakev1.TicketState_TICKET_STATE_CLOSED, asked.GetState(), "a request changes nothing yet")
	require.Equal(t, "users/dock1", asked.GetVoid().GetRequester())

	d.clock.Set(morning.AddDate(0, 0, 3))
	stands, err := d.office.ApproveTicketVoid(t.Context(), approval(wrong))
	require.NoError(t, err)
	require.Equal(t, "FC-2026-000002", stands.GetNumber())
	require.Equal(t, intakev1.TicketState_TICKET_STATE_CLOSED, stands.GetState())
	require.Equal(t, "members/M-0008", stands.GetMember())
	require.Equal(t, wrong.GetName(), stands.GetSupersedes())
	require.Equal(t, "2026-09-14", stands.GetDeliveryDate(), "it is still the delivery of that day")
	require.Equal(t, wrong.GetNetTotal().GetValue(), stands.GetNetTotal().GetValue())
	require.True(t, proto.Equal(stands, d.ticket(stands.GetName())))
	for i, b := range stands.GetBarrels() {
		before := wrong.GetBarrels()[i]
		require.Equal(t, before.GetName(), b.GetName())
		require.Equal(t, before.GetSample(), b.GetSample())
		require.Equal(t, stands.GetName(), b.GetTicket())
		require.Equal(t, "members/M-0008", b.GetMember())
		require.True(t, proto.Equal(b, d.barrel(b.GetName())))
	}
	old := d.ticket(wrong.GetName())
	require.Equal(t, intakev1.TicketState_TICKET_STATE_SUPERSEDED, old.GetState())
	require.Equal(t, stands.GetName(), old.GetSupersededBy())
	require.Equal(t, "users/office1", old.GetVoid().GetApprover())
	require.Equal(t, stands.GetBarrels()[0].GetName(), d.drum("FC-00442").GetOpenBarrel(), "the drum is still full")

	facts := d.facts()
	reissued := payload[*intakev1.TicketReissued](t, facts[len(facts)-1])
	require.True(t, proto.Equal(old, reissued.GetOldTicket()))
	require.True(t, proto.Equal(stands, reissued.GetNewTicket()))

	// Neither member learns of the other.
	before, after := d.member("M-0007"), d.member("M-0008")
	seen, err := before.GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: wrong.GetName()})
	require.NoError(t, err)
	require.Empty(t, seen.GetVoid().GetReissueMember())
	for _, b := range seen.GetBarrels() {
		require.Equal(t, "members/M-0007", b.GetMember())
		require.Empty(t, b.GetSample())
		_, err := before.GetBarrel(t.Context(), &intakev1.GetBarrelRequest{Name: b.GetName()})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": b.GetName()})
	}
	_, err = after.GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: wrong.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": wrong.GetName()})
	_, err = after.GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: stands.GetName()})
	require.NoError(t, err)
}

func TestReissueOfAReissue(t *testing.T) {
	t.Parallel()
	d := ready(t)
	first := d.deliver("M-0007", 442, 1)
	d.requestVoid(first, "members/M-0008")
	second, err := d.office.ApproveTicketVoid(t.Context(), approval(first))
	require.NoError(t, err)
	d.requestVoid(second, "members/M-0007")
	third, err := d.office.ApproveTicketVoid(t.Context(), approval(second))
	require.NoError(t, err)
	require.Equal(t, third.GetName(), d.barrel(first.GetBarrels()[0].GetName()).GetTicket(), "one live head")
	require.Equal(t, second.GetName(), d.ticket(first.GetName()).GetSupersededBy())
	_, err = d.clerk.RequestTicketVoid(t.Context(), &intakev1.RequestTicketVoidRequest{RequestId: id(), Name: first.GetName(), Reason: "again"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "SUPERSEDED"})
}

func TestVoidWithoutReissueFreesTheDrums(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 442, 2)
	d.requestVoid(ticket, "")
	voided, err := d.office.ApproveTicketVoid(t.Context(), approval(ticket))
	require.NoError(t, err)
	require.Equal(t, intakev1.TicketState_TICKET_STATE_VOIDED, voided.GetState())
	require.True(t, proto.Equal(voided, d.ticket(ticket.GetName())))
	require.Empty(t, d.drum("FC-00442").GetOpenBarrel())
	facts := d.facts()
	require.True(t, proto.Equal(voided, payload[*intakev1.TicketVoided](t, facts[len(facts)-1]).GetTicket()))
	d.weigh(d.open("M-0008"), "FC-00443")
}

func TestVoidNeedsTwoPeopleAndNoWeigher(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 442, 1)
	_, err := d.office.ApproveTicketVoid(t.Context(), approval(ticket))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})

	_, err = d.office.RequestTicketVoid(t.Context(), &intakev1.RequestTicketVoidRequest{RequestId: id(), Name: ticket.GetName(), Reason: "wrong member"})
	require.NoError(t, err)
	_, err = d.office.ApproveTicketVoid(t.Context(), approval(ticket))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/office1"})
	// Somebody who works dock and office at once is still the one who weighed.
	both := d.as("dock1", accessv1.Role_ROLE_DOCK, accessv1.Role_ROLE_OFFICE)
	_, err = both.ApproveTicketVoid(t.Context(), approval(ticket))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/dock1"})
	_, err = d.as("office2", accessv1.Role_ROLE_OFFICE).ApproveTicketVoid(t.Context(), approval(ticket))
	require.NoError(t, err)
}

func TestNewerRequestReplacesTheOlder(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 442, 1)
	d.requestVoid(ticket, "")
	d.requestVoid(ticket, "members/M-0008")
	stands, err := d.office.ApproveTicketVoid(t.Context(), approval(ticket))
	require.NoError(t, err)
	require.Equal(t, "members/M-0008", stands.GetMember())
	for owner, reason := range map[string]errorv1.Reason{
		"members/M-0008": errorv1.Reason_REASON_FIELD_INVALID, "members/M-0404": errorv1.Reason_REASON_NOT_FOUND,
		"M-0007": errorv1.Reason_REASON_FIELD_INVALID,
	} {
		_, err := d.clerk.RequestTicketVoid(t.Context(), &intakev1.RequestTicketVoidRequest{
			RequestId: id(), Name: stands.GetName(), Reason: "wrong member", ReissueMember: owner,
		})
		rpctest.RefusedAs(t, err, reason, nil)
	}
}

func TestTwoApprovalsGiveOneReissue(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 442, 1)
	d.requestVoid(ticket, "members/M-0008")
	var approved atomic.Int32
	var group sync.WaitGroup
	for range 6 {
		group.Go(func() {
			if _, err := d.office.ApproveTicketVoid(t.Context(), approval(ticket)); err == nil {
				approved.Add(1)
			}
		})
	}
	group.Wait()
	require.Equal(t, int32(1), approved.Load())
	require.Equal(t, "FC-2026-000003", d.open("M-0007").GetNumber())
}
