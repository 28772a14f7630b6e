package settlement_test

import (
	"fmt"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

func redeem(year int32, percent string) *settlementv1.RedeemEquityRequest {
	return &settlementv1.RedeemEquityRequest{RequestId: uuid.NewString(), CropYear: year, Percent: percent, Resolution: "Annual meeting 2033, resolution 5"}
}

// retaining is a market of crop years 2025 and 2026 whose schedules keep 3 cents a pound.
func retaining(t *testing.T) *market {
	m := &market{house: open(t)}
	for _, year := range []int32{2025, 2026} {
		s := prices(fmt.Sprintf("%d-07-01", year))
		s.CropYear, s.Deductions[1].Retained = year, true
		m.adopt(s)
	}
	m.take(member("M-0001", "Orchard Hill Apiary"))
	m.take(member("M-0002", "Three Oaks Honey"))
	for i, owner := range []string{"M-0001", "M-0002"} {
		for year, tag := range map[int32]string{2025: "FC-25" + owner, 2026: "FC-26" + owner} {
			tk := ticket("T-"+tag, owner, barrelOf{tag, []string{"640.0", "642.5"}[i], "clover"})
			tk.CropYear = year
			m.take(sampled(tag))
			m.take(closed(tk))
			m.take(graded(tag, 1, "17.0", "WHITE", "A"))
		}
	}
	m.as = m.serve()
	return m
}

func (m *market) equity(number string) *settlementv1.ListEquityResponse {
	out, err := m.as(rpctest.Member(number)).ListEquity(m.t.Context(), &settlementv1.ListEquityRequest{Member: "members/" + number})
	require.NoError(m.t, err)
	return out
}

func TestEquityRevolvesOldestYearFirst(t *testing.T) {
	t.Parallel()
	m := retaining(t)
	lots := m.equity("M-0001")
	require.Len(t, lots.GetLots(), 2)
	require.Equal(t, int32(2025), lots.GetLots()[0].GetCropYear())
	require.Equal(t, "19.20", lots.GetLots()[0].GetIssued().GetAmount())
	require.Equal(t, "38.40", lots.GetBalance().GetAmount())
	require.Contains(t, lots.GetCaution(), "not tax advice")
	_, err := m.as(board).RedeemEquity(t.Context(), redeem(2026, "100"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_OLDEST"})
	_, err = m.as(board).RedeemEquity(t.Context(), redeem(2025, "100.01"))
	rpctest.Faults(t, err, "percent")
	before := m.balances()
	half := redeem(2025, "50")
	for range 2 {
		r, err := m.as(board).RedeemEquity(t.Context(), half)
		require.NoError(t, err)
		require.Equal(t, int32(2), r.GetMembers())
		require.Equal(t, "19.24", r.GetTotal().GetAmount(), "9.60 of 19.20 and 9.64 of 19.28")
	}
	require.Equal(t, "9.60", m.equity("M-0001").GetLots()[0].GetBalance().GetAmount())
	require.Equal(t, "-9.60", m.balances()["equity:retains:2025:members:M-0001"])
	require.NotEqual(t, before["liabilities:members:M-0001"], m.balances()["liabilities:members:M-0001"])
	s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Equal(t, "9.60", s.GetRedeemed().GetAmount())
	// Two barrels of 640.0 lb at 1.15 − 0.02 − 0.03, and the 9.60.
	require.Equal(t, "We owe you $1,417.60.", s.GetHeadline())
	_, err = m.as(board).RedeemEquity(t.Context(), redeem(2025, "100"))
	require.NoError(t, err)
	_, err = m.as(board).RedeemEquity(t.Context(), redeem(2025, "100"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_OLDEST"})
	require.Equal(t, "0.00", m.equity("M-0002").GetLots()[0].GetBalance().GetAmount())
	_, err = m.as(rpctest.Member("M-0002")).ListEquity(t.Context(), &settlementv1.ListEquityRequest{Member: "members/M-0001"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	m.take(&intakev1.TicketVoided{Ticket: ticket("T-FC-26M-0001", "M-0001")})
	require.Equal(t, "0.00", m.equity("M-0001").GetBalance().GetAmount(), "capital of a voided delivery is taken back with it")
}

// retains adopts prices of a crop year that keep part as capital, and prices a barrel of the first member by them.
func (m *market) retains(year int32, tag string) {
	s := prices(fmt.Sprintf("%d-07-01", year))
	s.CropYear, s.Deductions[1].Retained = year, true
	m.adopt(s)
	tk := ticket("T-"+tag, "M-0001", barrelOf{tag, "640.0", "clover"})
	tk.CropYear = year
	m.take(sampled(tag))
	m.take(closed(tk))
	m.take(graded(tag, 1, "17.0", "WHITE", "A"))
}

// Capital was given back, and then the delivery it was kept for turns out to be somebody else's: the member owes it, the lot is
// at nothing and not below, and the other crop year's capital is not touched. Found to be right after all, all is as before.
func TestCapitalGivenBackForAVoidedDeliveryIsOwed(t *testing.T) {
	t.Parallel()
	m := retaining(t)
	_, err := m.as(board).RedeemEquity(t.Context(), redeem(2025, "50"))
	require.NoError(t, err)
	before := m.balances()
	m.take(&intakev1.TicketVoided{Ticket: ticket("T-FC-25M-0001", "M-0001")})
	own := m.equity("M-0001")
	require.Len(t, own.GetLots(), 1, "of 2025 nothing is kept and nothing is given back")
	require.Equal(t, "19.20", own.GetBalance().GetAmount(), "the capital of 2026")
	require.Len(t, own.GetCorrections(), 1)
	require.Equal(t, "-9.60", own.GetCorrections()[0].GetAmount().GetAmount())
	s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Equal(t, "We owe you $704.00.", s.GetHeadline(), "640.0 lb of 2026 at 1.15 − 0.02 − 0.03; the 9.60 are owed back")
	require.Equal(t, "0.00", s.GetRedeemed().GetAmount())
	require.Len(t, s.GetEquityCorrections(), 1)
	require.Empty(t, m.balances()["equity:retains:2025:members:M-0001"])
	require.Equal(t, before["equity:retains:2025:members:M-0002"], m.balances()["equity:retains:2025:members:M-0002"])

	again := ticket("T-FC-25-AGAIN", "M-0001", barrelOf{"FC-25M-0001", "640.0", "clover"})
	again.CropYear = 2025
	m.take(closed(again))
	own = m.equity("M-0001")
	require.Equal(t, []string{"19.20", "9.60", "9.60"}, []string{
		own.GetLots()[0].GetIssued().GetAmount(), own.GetLots()[0].GetRedeemed().GetAmount(), own.GetLots()[0].GetBalance().GetAmount(),
	})
	require.Equal(t, "9.60", own.GetCorrections()[1].GetAmount().GetAmount())
	require.Equal(t, before, m.balances(), "void and reissue come to nothing, in the books too")
	require.Equal(t, 2, m.facts()["barrelhead.settlement.v1.EquityCorrected"])
	_, err = m.as(office).GetTrialBalance(t.Context(), &settlementv1.GetTrialBalanceRequest{})
	require.NoError(t, err)
}
