package settlement_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
)

func (m *market) proposes(rate string) *settlementv1.ProgressPayment {
	g, err := m.as(office).ProposeProgress(m.t.Context(), &settlementv1.ProposeProgressRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName(), Rate: perPound(rate)})
	require.NoError(m.t, err)
	return g
}

func (m *market) adopts(who access.Actor, g *settlementv1.ProgressPayment) (*settlementv1.ProgressPayment, error) {
	return m.as(who).AdoptProgress(m.t.Context(), &settlementv1.AdoptProgressRequest{RequestId: uuid.NewString(), Name: g.GetName(), Resolution: "Board 2027-01-14 no. 2"})
}

func (m *market) net(number string) string { return m.total(number).GetNetAmount().GetAmount() }

func TestProgressIsPaidByResolutionAndTakenOffTheFinal(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	before := m.prepare()
	g := m.proposes("0.10")
	require.Equal(t, []string{"2558.3", "255.83", "2801.44"}, []string{g.GetPayable().GetValue(), g.GetAmount().GetAmount(), g.GetCreditedBefore().GetAmount()}, "64.25 + 63.56 + 64.02 + 64.00")
	require.Equal(t, "1969.37", m.net("M-0001"), "a proposal pays nothing")
	interested := board
	interested.Login, interested.Member = "users/board2", "members/M-0002"
	_, err := m.adopts(interested, g)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OWN_HONEY"})
	proposer := board
	proposer.Login = office.Login
	_, err = m.adopts(proposer, g)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": office.Login})
	paid, err := m.adopts(board, g)
	require.NoError(t, err)
	require.Equal(t, "255.83", paid.GetAmount().GetAmount())
	_, err = m.adopts(board, g)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "PAID"})
	require.Equal(t, "2161.20", m.net("M-0001"), "1,969.37 + 191.83")
	var p *settlementv1.Payout
	for _, one := range m.payouts("M-0001")[:3] {
		if one.GetDrumTag() == "FC-3" {
			p = one
		}
	}
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_PROGRESS, p.GetKind())
	require.Equal(t, g.GetName(), p.GetProgress())
	require.Equal(t, "Board 2027-01-14 no. 2", p.GetLines()[0].GetExplanation().GetAuthority())
	require.Contains(t, p.GetLines()[0].GetExplanation().GetCalculation(), "640.2 lb × $0.10 = $64.02")
	pool, err := m.as(office).GetPool(t.Context(), &settlementv1.GetPoolRequest{Name: m.pool.GetName()})
	require.NoError(t, err)
	require.Equal(t, "users/board1", pool.GetProgressPayments()[0].GetAdopter())

	_, err = m.approve(board, before)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OUTDATED"})
	r := m.settled()
	require.Equal(t, "3057.27", r.GetCreditedBefore().GetAmount(), "2,801.44 + 255.83")
	c, err := m.as(board).CompareRuns(t.Context(), &settlementv1.CompareRunsRequest{Name: r.GetName(), Base: before.GetName()})
	require.NoError(t, err)
	require.Len(t, c.GetChanges(), 1, "one line, whatever the barrels")
	require.Contains(t, c.GetChanges()[0].GetCause(), "$255.83 more was credited on 4 barrels before the closing")
	require.Empty(t, c.GetMembers(), "what honey is worth is the same")
	final := m.payouts("M-0002")[0]
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_FINAL, final.GetKind())
	credited := final.GetLines()[1]
	require.Equal(t, "-800.00", credited.GetAmount().GetAmount(), "736.00 and 64.00")
	require.Contains(t, credited.GetExplanation().GetCalculation(), "$736.00 by the advance + $64.00 by progress payments = $800.00")
	s, err := m.as(rpctest.Member("M-0002")).GetStatement(t.Context(), statementOf("M-0002"))
	require.NoError(t, err)
	require.Equal(t, []string{"704.00", "64.00"}, []string{s.GetAdvances().GetAmount(), s.GetProgress().GetAmount()})
	require.Equal(t, int32(1), s.GetTotal().GetPricedBarrels())
	require.Equal(t, m.total("M-0002").String(), s.GetTotal().String())
	_, err = m.as(office).GetTrialBalance(t.Context(), &settlementv1.GetTrialBalanceRequest{})
	require.NoError(t, err)

	m.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000002", "M-0002")})
	require.Equal(t, "0.00", m.net("M-0002"), "advance, progress and final are taken back together")
	_, err = m.as(office).ProposeProgress(t.Context(), &settlementv1.ProposeProgressRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName(), Rate: perPound("0.01")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
}

// A corrected barrel, and one that is priced late, have the progress payments of their open pool, whatever came first; what was
// too much is owed.
func TestProgressFollowsTheBarrel(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("2800.00")
	_, err := m.adopts(board, m.proposes("0.40"))
	require.NoError(t, err)
	require.Equal(t, "960.00", m.net("M-0002"), "704.00 + 256.00")
	m.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000002", "M-0002")})
	require.Equal(t, "0.00", m.net("M-0002"))
	again := ticket("FC-2026-000008", "M-0002", barrelOf{"FC-4", "640.0", "clover"})
	m.take(closed(again))
	require.Equal(t, "960.00", m.net("M-0002"), "void and identical reissue come to nothing")
	m.take(graded("FC-4", 2, "19.2", "WHITE", "A"))
	require.Equal(t, "952.86", m.net("M-0002"), "730.60 − 12.80 − 19.06 for 635.3 lb, and 254.12")
	shared := ticket("FC-2026-000009", "M-0001", barrelOf{"FC-9", "640.0", "clover"})
	shared.Owners = []*intakev1.OwnerShare{{Member: "members/M-0001", SharePercent: "33.3333"}, {Member: "members/M-0002", SharePercent: "66.6667"}}
	m.take(closed(shared))
	m.take(sampled("FC-9"))
	m.take(graded("FC-9", 1, "17.0", "WHITE", "A"))
	parts := []string{}
	for _, number := range []string{"M-0001", "M-0002"} {
		p := m.payouts(number)[0]
		require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_PROGRESS, p.GetKind())
		parts = append(parts, p.GetNetAmount().GetAmount())
	}
	require.Equal(t, []string{"85.33", "170.67"}, parts, "of 256.00")
	second, err := m.adopts(board, m.proposes("0.01"))
	require.NoError(t, err)
	require.Equal(t, "31.94", second.GetAmount().GetAmount(), "6.43 + 6.36 + 6.40 + 6.35 + 6.40 on 3,193.6 lb")
	r := m.settled()
	require.NotEqual(t, "0.00", r.GetReceivable().GetAmount(), "the pool is worth less than was credited")
	parted, err := m.as(board).ListRunMembers(t.Context(), &settlementv1.ListRunMembersRequest{Run: r.GetName()})
	require.NoError(t, err)
	for _, part := range parted.GetRunMembers() {
		require.Equal(t, "0.00", part.GetDue().GetAmount())
	}
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.True(t, verified.GetIdentical())
}
