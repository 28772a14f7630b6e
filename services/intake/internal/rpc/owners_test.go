package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/rpctest"
)

func shares(pairs ...string) []*intakev1.OwnerShare {
	var all []*intakev1.OwnerShare
	for i := 0; i < len(pairs); i += 2 {
		all = append(all, &intakev1.OwnerShare{Member: "members/" + pairs[i], SharePercent: pairs[i+1]})
	}
	return all
}

// spell writes owners as "M-0007 60.0, M-0008 40.0".
func spell(owners []*intakev1.OwnerShare) string {
	text := ""
	for i, o := range owners {
		if i > 0 {
			text += ", "
		}
		text += o.GetMember()[len("members/"):] + " " + o.GetSharePercent()
	}
	return text
}

func (d *dock) openSplit(member string, owners []*intakev1.OwnerShare) *intakev1.Ticket {
	d.t.Helper()
	t, err := d.clerk.OpenTicket(d.t.Context(), &intakev1.OpenTicketRequest{
		RequestId: id(), Member: "members/" + member, CropYear: 2026, HarvestDeclared: true, Hauler: "the brother", Owners: owners,
	})
	require.NoError(d.t, err)
	return t
}

func TestDeliveryOfTwoOwners(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.enrol("M-0009")
	ticket := d.openSplit("M-0007", shares("M-0008", "40", "M-0007", "60"))
	require.Equal(t, "M-0007 60.0, M-0008 40.0", spell(ticket.GetOwners()))
	require.Equal(t, "Apiary M-0008", ticket.GetOwners()[1].GetMemberDisplayName())
	barrel := d.sample(d.weigh(ticket, "FC-00442"))
	closed := d.close(ticket, 1)
	require.True(t, proto.Equal(closed, d.ticket(ticket.GetName())))
	facts := d.facts()
	require.Equal(t, "M-0007 60.0, M-0008 40.0", spell(payload[*intakev1.TicketClosed](t, facts[len(facts)-1]).GetTicket().GetOwners()))

	get := &intakev1.GetTicketRequest{Name: ticket.GetName()}
	lead, err := d.member("M-0007").GetTicket(t.Context(), get)
	require.NoError(t, err)
	require.Equal(t, "M-0007 60.0", spell(lead.GetOwners()))
	require.Equal(t, "members/M-0007", lead.GetMember())
	other, err := d.member("M-0008").GetTicket(t.Context(), get)
	require.NoError(t, err)
	require.Equal(t, "M-0008 40.0", spell(other.GetOwners()))
	require.NotContains(t, other.String(), "M-0007")
	require.NotContains(t, other.String(), "brother")
	require.Equal(t, "642.5", other.GetNetTotal().GetValue())
	seen, err := d.member("M-0008").GetBarrel(t.Context(), &intakev1.GetBarrelRequest{Name: barrel.GetName()})
	require.NoError(t, err)
	require.NotContains(t, seen.String(), "M-0007")
	_, err = d.member("M-0009").GetTicket(t.Context(), get)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": ticket.GetName()})
	_, err = d.member("M-0009").GetBarrel(t.Context(), &intakev1.GetBarrelRequest{Name: barrel.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": barrel.GetName()})
	for member, count := range map[string]int{"M-0007": 1, "M-0008": 1, "M-0009": 0} {
		listed, err := d.member(member).ListTickets(t.Context(), &intakev1.ListTicketsRequest{})
		require.NoError(t, err)
		require.Len(t, listed.GetTickets(), count)
		listed, err = d.office.ListTickets(t.Context(), &intakev1.ListTicketsRequest{Member: "members/" + member})
		require.NoError(t, err)
		require.Len(t, listed.GetTickets(), count)
	}
}

func TestSplitsThatCannotBe(t *testing.T) {
	t.Parallel()
	d := ready(t)
	eleven := shares("M-0007", "50")
	for len(eleven) < 11 {
		eleven = append(eleven, shares("M-0008", "5")...)
	}
	for field, owners := range map[string][]*intakev1.OwnerShare{
		"owners":                  shares("M-0007", "60", "M-0008", "39.9999"),
		"owners[1].share_percent": shares("M-0007", "60", "M-0008", "39.99999"),
		"owners[0].member":        {{Member: "M-0007", SharePercent: "100"}},
	} {
		_, err := d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0007", CropYear: 2026, Owners: owners})
		rpctest.Faults(t, err, field)
	}
	_, err := d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0007", CropYear: 2026, Owners: eleven})
	rpctest.Faults(t, err, "owners")
	_, err = d.clerk.OpenTicket(t.Context(), &intakev1.OpenTicketRequest{
		RequestId: id(), Member: "members/M-0007", CropYear: 2026, Owners: shares("M-0007", "60", "M-0404", "40"),
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0404"})
	require.Equal(t, "FC-2026-000001", d.open("M-0007").GetNumber())
}

func TestStandingSplitDecidesFromItsDateOn(t *testing.T) {
	t.Parallel()
	d := ready(t)
	set := func(from string, owners []*intakev1.OwnerShare) error {
		_, err := d.office.SetStandingSplit(t.Context(), &intakev1.SetStandingSplitRequest{
			RequestId: id(), Member: "members/M-0007", EffectiveDate: from, Owners: owners, Note: "signed by both",
		})
		return err
	}
	before := d.open("M-0007")
	require.NoError(t, set("2026-09-15", shares("M-0007", "66.6667", "M-0008", "33.3333")))
	require.NoError(t, set("2026-09-20", nil))
	rpctest.RefusedAs(t, set("2026-09-13", nil), errorv1.Reason_REASON_OUT_OF_RANGE, map[string]string{"low": "2026-09-14"})
	rpctest.Faults(t, set("2026-09-15", shares("M-0008", "100")), "owners")
	require.Empty(t, d.open("M-0007").GetOwners(), "not yet in force")
	d.clock.Advance(24 * time.Hour)
	require.Equal(t, "M-0007 66.6667, M-0008 33.3333", spell(d.open("M-0007").GetOwners()))
	require.Equal(t, "M-0007 10.0, M-0008 90.0", spell(d.openSplit("M-0007", shares("M-0007", "10", "M-0008", "90")).GetOwners()))
	require.Empty(t, d.openSplit("M-0007", shares("M-0007", "100")).GetOwners(), "this one is the member's alone")
	require.Empty(t, d.open("M-0008").GetOwners(), "it is the other's agreement")
	d.clock.Advance(5 * 24 * time.Hour)
	require.Empty(t, d.open("M-0007").GetOwners(), "ended")
	require.Empty(t, d.ticket(before.GetName()).GetOwners())

	req := &intakev1.ListStandingSplitsRequest{Member: "members/M-0007", PageSize: 1}
	var listed []string
	for {
		page, err := d.auditor.ListStandingSplits(t.Context(), req)
		require.NoError(t, err)
		for _, s := range page.GetStandingSplits() {
			listed = append(listed, s.GetEffectiveDate()+" "+spell(s.GetOwners()))
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			break
		}
	}
	require.Equal(t, []string{"2026-09-20 ", "2026-09-15 M-0007 66.6667, M-0008 33.3333"}, listed)
	_, err := d.office.ListStandingSplits(t.Context(), &intakev1.ListStandingSplitsRequest{Member: "members/M-0404"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0404"})
}

func TestReissueCarriesTheSplit(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.enrol("M-0009")
	ticket := d.openSplit("M-0007", shares("M-0007", "60", "M-0008", "40"))
	d.sample(d.weigh(ticket, "FC-00442"))
	d.close(ticket, 1)
	reissue := func(of *intakev1.Ticket, member string, owners []*intakev1.OwnerShare) *intakev1.Ticket {
		t.Helper()
		asked, err := d.clerk.RequestTicketVoid(t.Context(), &intakev1.RequestTicketVoidRequest{
			RequestId: id(), Name: of.GetName(), Reason: "wrong owner", ReissueMember: "members/" + member, ReissueOwners: owners,
		})
		require.NoError(t, err)
		require.True(t, proto.Equal(asked, d.ticket(of.GetName())))
		stands, err := d.office.ApproveTicketVoid(t.Context(), approval(of))
		require.NoError(t, err)
		require.True(t, proto.Equal(stands, d.ticket(stands.GetName())))
		require.Equal(t, spell(asked.GetVoid().GetReissueOwners()), spell(stands.GetOwners()))
		return stands
	}
	second := reissue(ticket, "M-0009", nil)
	require.Equal(t, "M-0009 60.0, M-0008 40.0", spell(second.GetOwners()))
	require.Equal(t, "M-0007 60.0, M-0008 40.0", spell(d.ticket(ticket.GetName()).GetOwners()), "the old ticket stays as it was")
	seen, err := d.member("M-0008").GetTicket(t.Context(), &intakev1.GetTicketRequest{Name: ticket.GetName()})
	require.NoError(t, err)
	require.NotContains(t, seen.String(), "M-0009")
	third := reissue(second, "M-0009", shares("M-0009", "50", "M-0008", "50"))
	require.Equal(t, "M-0009 50.0, M-0008 50.0", spell(third.GetOwners()))
	fourth := reissue(third, "M-0008", shares("M-0008", "100"))
	require.Empty(t, fourth.GetOwners())
}
