package settlement_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/quantity"
)

// shared gives a ticket owners, e.g. shared(t, "M-0001", "60", "M-0002", "40").
func shared(t *intakev1.Ticket, parts ...string) *intakev1.Ticket {
	for i := 0; i < len(parts); i += 2 {
		t.Owners = append(t.Owners, &intakev1.OwnerShare{Member: "members/" + parts[i], SharePercent: parts[i+1]})
	}
	return t
}

func openShared(t *testing.T, parts ...string) *house {
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(member("M-0002", "Three Oaks Honey"))
	h.take(member("M-0003", "Estate of Fenna Quenby"))
	h.take(sampled("FC-1"))
	h.take(closed(shared(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"}), parts...)))
	return h
}

func (h *house) sum(field func(*settlementv1.Payout) string, members ...string) string {
	var sum quantity.Money
	for _, m := range members {
		for _, p := range h.payouts(m) {
			amount, err := quantity.ParseMoney(field(p))
			require.NoError(h.t, err)
			sum += amount
		}
	}
	return sum.String()
}

func netOf(p *settlementv1.Payout) string { return p.GetNetAmount().GetAmount() }

func TestOwnersShareEveryCent(t *testing.T) {
	t.Parallel()
	h := openShared(t, "M-0001", "33.3333", "M-0003", "33.3334", "M-0002", "33.3333")
	require.Equal(t, map[string]string{"FC-1": "waiting for its certificate"}, h.waiting())
	h.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	// 635.3 lb × 1.15 = 730.60 (730.595 half up), hauling 12.80, retain 19.06: 698.74 together.
	require.Equal(t, "698.74", h.sum(netOf, "M-0001", "M-0002", "M-0003"))
	one, three := h.payouts("M-0001")[0], h.payouts("M-0003")[0]
	require.Equal(t, "33.3333", one.GetSharePercent())
	require.Equal(t, "33.3334", three.GetSharePercent())
	require.Equal(t, "213.334", one.GetNet().GetValue())
	// A third of 730.60 is 243.53 1/3; the cent that is left goes to the largest remainder.
	require.Equal(t, "243.53", one.GetLines()[0].GetAmount().GetAmount())
	require.Equal(t, "243.54", three.GetLines()[0].GetAmount().GetAmount())
	require.True(t, three.GetLines()[0].GetOddCent())
	require.False(t, one.GetLines()[0].GetOddCent())
	require.Contains(t, three.GetLines()[0].GetExplanation().GetCalculation(), "your 33.3334 % of $730.60 = $243.54; $0.01 of it was placed by the rounding rule")
	require.Contains(t, one.GetHeadline(), "Your 33.3333 % of barrel FC-1")
	for _, m := range []string{"M-0001", "M-0002", "M-0003"} {
		total := h.total(m)
		require.Equal(t, int32(1), total.GetBarrels())
		require.Equal(t, int32(1), total.GetPricedBarrels())
	}
	totals, err := h.app.ListMemberTotals(access.With(t.Context(), office), &settlementv1.ListMemberTotalsRequest{})
	require.NoError(t, err)
	require.Equal(t, int32(1), totals.GetGrandTotal().GetPricedBarrels())
	require.Equal(t, "640.0", totals.GetGrandTotal().GetNet().GetValue())
	require.Equal(t, "698.74", totals.GetGrandTotal().GetNetAmount().GetAmount())
}

func TestAnOwnerSeesItsOwnShareOnly(t *testing.T) {
	t.Parallel()
	h := openShared(t, "M-0001", "60", "M-0002", "40")
	second := access.With(t.Context(), access.Actor{Login: "users/m2", Roles: []accessv1.Role{accessv1.Role_ROLE_MEMBER}, Member: "members/M-0002"})
	unpriced, err := h.app.ListUnpriced(second, &settlementv1.ListUnpricedRequest{})
	require.NoError(t, err)
	require.Len(t, unpriced.GetUnpriced(), 1)
	require.NotContains(t, unpriced.String(), "M-0001")
	h.take(graded("FC-1", 1, "17.4", "WHITE", "A"))
	statement, err := h.app.GetStatement(second, &settlementv1.GetStatementRequest{Member: "members/M-0002", CropYear: 2026})
	require.NoError(t, err)
	require.Len(t, statement.GetPayouts(), 1)
	require.NotContains(t, statement.String(), "M-0001")
	require.NotContains(t, statement.String(), "60 %")
	_, err = h.app.GetPayout(second, &settlementv1.GetPayoutRequest{Name: h.payouts("M-0001")[0].GetName()})
	require.Equal(t, codes.NotFound, status.Code(err))
}

func TestReissueAndVoidMirrorTheShares(t *testing.T) {
	t.Parallel()
	h := openShared(t, "M-0001", "60", "M-0002", "40")
	h.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	old := ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})
	renewed := shared(ticket("FC-2026-000002", "M-0002", barrelOf{"FC-1", "640.0", "clover"}), "M-0002", "50", "M-0003", "50")
	h.take(&intakev1.TicketReissued{OldTicket: old, NewTicket: renewed})
	require.Equal(t, "0.00", h.sum(netOf, "M-0001"))
	require.Equal(t, "349.37", h.sum(netOf, "M-0002"))
	require.Equal(t, "349.37", h.sum(netOf, "M-0003"))
	require.Len(t, h.payouts("M-0002"), 3, "its 40 %, that taken back, its 50 %")
	h.take(&intakev1.TicketVoided{Ticket: renewed})
	for _, m := range []string{"M-0001", "M-0002", "M-0003"} {
		require.Equal(t, "0.00", h.sum(netOf, m))
		require.Equal(t, int32(0), h.total(m).GetPricedBarrels())
	}
}

func TestFinalsOfASharedBarrel(t *testing.T) {
	t.Parallel()
	m := &market{house: openShared(t, "M-0001", "33.3333", "M-0002", "66.6667")}
	m.as = m.serve()
	m.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	m.pool = poolOf(m)
	m.sells("1500.00")
	r := m.settled()
	require.Equal(t, int32(1), r.GetBarrels())
	value := func(p *settlementv1.Payout) string { return p.GetGrossAmount().GetAmount() }
	require.Equal(t, r.GetToMembers().GetAmount(), m.sum(value, "M-0001", "M-0002"))
	parts, err := m.as(board).ListRunMembers(t.Context(), &settlementv1.ListRunMembersRequest{Run: r.GetName()})
	require.NoError(t, err)
	for i, number := range []string{"M-0001", "M-0002"} {
		require.Equal(t, parts.GetRunMembers()[i].GetValue().GetAmount(), m.sum(value, number))
	}
	require.NotEmpty(t, m.balances())
	// A correction of the closed pool: what was taken back and what came instead leave the closed figures alone.
	m.take(reweighed("FC-1", 1, "-36.0"))
	require.Len(t, m.payouts("M-0001"), 6)
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.True(t, verified.GetIdentical())
	require.Equal(t, int32(1), m.total("M-0002").GetPricedBarrels())
	require.NotEmpty(t, m.balances())
}
