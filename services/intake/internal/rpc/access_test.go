package rpc_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
)

func TestWhoMayDoWhat(t *testing.T) {
	t.Parallel()
	rpctest.Matrix(t, start(t).server.Gateway(), intakev1.IntakeService_ServiceDesc.ServiceName)
}

// A neighbour's resource answers exactly as one that does not exist.
func TestMembersSeeOnlyTheirOwn(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 442, 1)
	owner, stranger := d.member("M-0007"), d.member("M-0008")
	seen, err := owner.GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: ticket.GetName()})
	require.NoError(t, err)
	require.Equal(t, ticket.GetNumber(), seen.GetNumber())
	_, err = owner.GetMember(t.Context(), &intakev1.GetMemberRequest{Name: "members/M-0007"})
	require.NoError(t, err)

	const nowhere = "3c2f6f9e-90d6-4ad4-9d3c-b45a3a70c0a1"
	answers := func(call func(name string) error, foreign, missing string) {
		t.Helper()
		a, b := apierr.Parse(call(foreign)), apierr.Parse(call(missing))
		rpctest.RefusedAs(t, call(foreign), errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": foreign})
		require.Equal(t, fmt.Sprintf("%s does not exist", foreign), a.Message)
		require.Equal(t, fmt.Sprintf("%s does not exist", missing), b.Message)
		a.Message, a.Metadata, b.Message, b.Metadata = "", nil, "", nil
		require.Equal(t, a, b)
	}
	answers(func(name string) error {
		_, err := stranger.GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: name})
		return err
	}, ticket.GetName(), "tickets/"+nowhere)
	answers(func(name string) error {
		_, err := stranger.GetBarrel(t.Context(), &intakev1.GetBarrelRequest{Name: name})
		return err
	}, ticket.GetBarrels()[0].GetName(), "barrels/"+nowhere)
	answers(func(name string) error {
		_, err := stranger.GetMember(t.Context(), &intakev1.GetMemberRequest{Name: name})
		return err
	}, "members/M-0007", "members/M-0404")

	for _, member := range []string{"members/M-0007", "members/M-0404", ""} {
		listed, err := stranger.ListTickets(t.Context(), &intakev1.ListTicketsRequest{Member: member})
		require.NoError(t, err)
		require.Empty(t, listed.GetTickets())
	}
	listed, err := owner.ListTickets(t.Context(), &intakev1.ListTicketsRequest{})
	require.NoError(t, err)
	require.Len(t, listed.GetTickets(), 1)
}

func TestPagesOfTickets(t *testing.T) {
	t.Parallel()
	d := ready(t)
	for i := range 7 {
		d.open([]string{"M-0007", "M-0008"}[i%2])
	}
	_, err := d.clerk.CancelTicket(t.Context(), &intakev1.CancelTicketRequest{RequestId: id(), Name: d.open("M-0007").GetName(), Reason: "no truck"})
	require.NoError(t, err)
	numbers := func(req *intakev1.ListTicketsRequest) []string {
		t.Helper()
		var all []string
		for {
			page, err := d.auditor.ListTickets(t.Context(), req)
			require.NoError(t, err)
			require.LessOrEqual(t, len(page.GetTickets()), 3)
			for _, ticket := range page.GetTickets() {
				all = append(all, ticket.GetNumber()[len("FC-2026-00000"):])
			}
			if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
				return all
			}
		}
	}
	require.Equal(t, []string{"8", "7", "6", "5", "4", "3", "2", "1"}, numbers(&intakev1.ListTicketsRequest{PageSize: 3}))
	require.Equal(t, []string{"6", "4", "2"}, numbers(&intakev1.ListTicketsRequest{PageSize: 3, Member: "members/M-0008"}))
	require.Equal(t, []string{"8"}, numbers(&intakev1.ListTicketsRequest{PageSize: 3, State: intakev1.TicketState_TICKET_STATE_CANCELLED}))
	_, err = d.auditor.ListTickets(t.Context(), &intakev1.ListTicketsRequest{PageToken: "?"})
	rpctest.Faults(t, err, "page_token")
	_, err = d.auditor.ListTickets(t.Context(), &intakev1.ListTicketsRequest{Member: "seven"})
	rpctest.Faults(t, err, "member")
}

func TestMembersAreListedByNumberAndNeverReplaced(t *testing.T) {
	t.Parallel()
	d := start(t)
	d.enrol("M-10000", "M-0002", "M-0010", "M-0001")
	var all []string
	req := &intakev1.ListMembersRequest{PageSize: 3}
	for {
		page, err := d.office.ListMembers(t.Context(), req)
		require.NoError(t, err)
		for _, m := range page.GetMembers() {
			all = append(all, m.GetName())
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			break
		}
	}
	require.Equal(t, []string{"members/M-0001", "members/M-0002", "members/M-0010", "members/M-10000"}, all)
	again := &intakev1.CreateMemberRequest{RequestId: id(), MemberNumber: "M-0002", DisplayName: "Somebody else"}
	_, err := d.office.CreateMember(t.Context(), again)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "members/M-0002"})
	again.MemberNumber, again.JoinDate = "M-0003", "2026-02-30"
	_, err = d.office.CreateMember(t.Context(), again)
	rpctest.Faults(t, err, "join_date")
	again.RequestId, again.JoinDate = id(), ""
	joined, err := d.office.CreateMember(t.Context(), again)
	require.NoError(t, err)
	require.Equal(t, "2026-09-14", joined.GetJoinDate())
}

func TestOpeningATicket(t *testing.T) {
	t.Parallel()
	d := ready(t)
	req := &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0404", CropYear: 2026}
	_, err := d.clerk.OpenTicket(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0404"})
	req.Member, req.CropYear = "members/M-0007", 2027
	_, err = d.clerk.OpenTicket(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"field": "crop_year", "low": "2021", "high": "2026"})
	req.Member, req.CropYear = "M-0007", 2026
	_, err = d.clerk.OpenTicket(t.Context(), req)
	rpctest.Faults(t, err, "member")
	_, err = d.clerk.GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: "tickets/FC-2026-000001"})
	rpctest.Faults(t, err, "name")
}
