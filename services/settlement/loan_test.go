package settlement_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

func (m *market) propose(number string, purpose settlementv1.LoanPurpose, principal, percent string) *settlementv1.Loan {
	l, err := m.as(office).ProposeLoan(m.t.Context(), &settlementv1.ProposeLoanRequest{RequestId: uuid.NewString(), Loan: &settlementv1.Loan{
		Member: "members/" + number, Purpose: purpose, Principal: usd(principal), AnnualRatePercent: "7.3", DayCount: settlementv1.DayCount_DAY_COUNT_ACTUAL_365,
		DeductionPercent: percent, Authority: "Loan agreement of 2026-09-20",
	}})
	require.NoError(m.t, err)
	return l
}

func (m *market) lend(l *settlementv1.Loan) (*settlementv1.Loan, error) {
	return m.as(board).ApproveLoan(m.t.Context(), &settlementv1.ApproveLoanRequest{RequestId: uuid.NewString(), Name: l.GetName(), Resolution: "Board 2026-09-20 no. 4"})
}

func (m *market) repay(l *settlementv1.Loan, amount, on string) (*settlementv1.Loan, error) {
	return m.as(office).RecordLoanPayment(m.t.Context(), &settlementv1.RecordLoanPaymentRequest{
		RequestId: uuid.NewString(), Name: l.GetName(), Amount: usd(amount), EntryDate: on, Document: "Cheque 1042",
	})
}

func (m *market) charge(number, amount string) *settlementv1.MemberCharge {
	c, err := m.as(office).ChargeMember(m.t.Context(), &settlementv1.ChargeMemberRequest{RequestId: uuid.NewString(), Charge: &settlementv1.MemberCharge{
		Member: "members/" + number, Kind: settlementv1.ChargeKind_CHARGE_KIND_CONTAINER, Amount: usd(amount), Description: "Deposit for 4 drums",
		Authority: "Marketing agreement 2026, article 8", EntryDate: "2026-09-20",
	}})
	require.NoError(m.t, err)
	return c
}

// 1000.00 at 7.3 % is 0.20 a day of 365: 12 days from 2026-09-20 to the payment of 2026-10-02 are 2.40.
func TestALoanIsRepaidFromWhatTheMemberIsOwed(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	l := m.propose("M-0001", settlementv1.LoanPurpose_LOAN_PURPOSE_CASH, "1000.00", "50")
	require.Equal(t, "L-2026-001", l.GetNumber())
	require.Equal(t, settlementv1.LoanState_LOAN_STATE_PROPOSED, l.GetState())
	require.NotContains(t, m.balances(), "assets:loans:members:M-0001", "nothing is lent yet")
	same, own := board, board
	same.Login, own.Member = office.Login, "members/M-0001"
	_, err := m.as(same).ApproveLoan(t.Context(), &settlementv1.ApproveLoanRequest{RequestId: uuid.NewString(), Name: l.GetName(), Resolution: "None"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": office.Login})
	_, err = m.as(own).ApproveLoan(t.Context(), &settlementv1.ApproveLoanRequest{RequestId: uuid.NewString(), Name: l.GetName(), Resolution: "Own"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "INTERESTED"})
	l, err = m.lend(l)
	require.NoError(t, err)
	require.Equal(t, "1000.00", m.balances()["assets:loans:members:M-0001"])
	m.bank()
	b := m.batch()
	d := b.GetLoanDeductions()[0]
	require.Equal(t, []string{"2.40", "982.29"}, []string{d.GetInterest().GetAmount(), d.GetPrincipal().GetAmount()}, "half of 1969.37 is 984.685, up")
	require.Equal(t, "984.68", b.GetPayments()[0].GetAmount().GetAmount())

	paid, err := m.repay(l, "100.00", "2026-10-01")
	require.NoError(t, err)
	require.Equal(t, "902.20", paid.GetPrincipalDue().GetAmount(), "2.20 of it was interest")
	released, err := m.payOut(treasurer, b)
	require.NoError(t, err)
	require.Empty(t, released.GetLoanDeductions(), "the loan has changed since: the member is left out")
	require.Equal(t, "members/M-0001", released.GetBlocked()[0].GetMember())
	released, err = m.payOut(treasurer, m.batch())
	require.NoError(t, err)
	d = released.GetLoanDeductions()[0]
	require.Equal(t, []string{"0.18", "902.20"}, []string{d.GetInterest().GetAmount(), d.GetPrincipal().GetAmount()}, "no more than is owed")
	require.Equal(t, "1066.99", released.GetPayments()[0].GetAmount().GetAmount())
	got, err := m.as(rpctest.Member("M-0001")).GetLoan(t.Context(), &settlementv1.GetLoanRequest{Name: l.GetName()})
	require.NoError(t, err)
	require.Equal(t, settlementv1.LoanState_LOAN_STATE_REPAID, got.GetState(), got)
	for _, account := range []string{"liabilities:members:M-0001", "assets:loans:members:M-0001", "assets:loan-interest:members:M-0001"} {
		require.NotContains(t, m.balances(), account)
	}
	require.Equal(t, "-2.38", m.balances()["income:loan-interest"], "2.20 and 0.18 for a day on 902.20")
	_, err = m.as(rpctest.Member("M-0002")).GetLoan(t.Context(), &settlementv1.GetLoanRequest{Name: l.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": l.GetName()})
	hledger(t, m.journal(&settlementv1.ExportJournalRequest{}), "check")
}

func TestInterestGoesOnTheBooksMonthByMonth(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	l := m.propose("M-0001", settlementv1.LoanPurpose_LOAN_PURPOSE_SUPPLIES, "1000.00", "0")
	_, err := m.lend(l)
	require.NoError(t, err)
	require.Equal(t, "-1000.00", m.balances()["assets:stores"])
	post := func(month string) (*settlementv1.PostLoanInterestResponse, error) {
		return m.as(office).PostLoanInterest(t.Context(), &settlementv1.PostLoanInterestRequest{RequestId: uuid.NewString(), Month: month})
	}
	_, err = post("2026-09")
	rpctest.Faults(t, err, "month")
	m.clk.Advance(45 * 24 * time.Hour)
	for _, want := range []struct {
		month, interest string
		loans           int32
	}{{"2026-09", "2.00", 1}, {"2026-10", "6.20", 1}, {"2026-10", "0.00", 0}, {"2026-09", "0.00", 0}} {
		got, err := post(want.month)
		require.NoError(t, err)
		require.Equal(t, want.interest, got.GetInterest().GetAmount(), want.month)
		require.Equal(t, want.loans, got.GetLoans())
	}
	require.Equal(t, "8.20", m.balances()["assets:loan-interest:members:M-0001"])
	_, err = m.repay(l, "5.00", "2026-10-30")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "LATER_ENTRY"})
	_, err = m.repay(l, "1009.01", "2026-11-04")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "TOO_MUCH"})
	_, err = m.repay(l, "1009.00", "2026-11-05")
	rpctest.Faults(t, err, "entry_date")
	done, err := m.repay(l, "1009.00", "2026-11-04")
	require.NoError(t, err)
	require.Equal(t, settlementv1.LoanState_LOAN_STATE_REPAID, done.GetState())
	require.Equal(t, "-9.00", m.balances()["income:loan-interest"], "45 days of 0.20")
}

// What a member owes is carried and never collected: no payment is negative, and a loan spreads it only by the board's word.
func TestAnOverAdvanceIsSpreadByALoan(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	m.charge("M-0002", "-1000.00")
	owes := m.balances()["liabilities:members:M-0002"]
	require.Equal(t, "296.00", owes, "704.00 were owed to the member")
	require.Equal(t, "$296.00 is owed to the cooperative; it is carried forward", m.batch().GetBlocked()[0].GetReason())
	_, err := m.lend(m.propose("M-0002", settlementv1.LoanPurpose_LOAN_PURPOSE_OVER_ADVANCE, "296.01", "25"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_OVER_ADVANCED"})
	l, err := m.lend(m.propose("M-0002", settlementv1.LoanPurpose_LOAN_PURPOSE_OVER_ADVANCE, "296.00", "25"))
	require.NoError(t, err)
	require.NotContains(t, m.balances(), "liabilities:members:M-0002")
	require.Equal(t, "296.00", m.balances()["assets:loans:members:M-0002"])
	s, err := m.as(rpctest.Member("M-0002")).GetStatement(t.Context(), statementOf("M-0002"))
	require.NoError(t, err)
	require.Equal(t, "0.00", s.GetBalance().GetAmount())
	require.Equal(t, "296.00", s.GetLoanMovements().GetAmount())
	require.Equal(t, l.GetName(), s.GetLoans()[0].GetName())
	require.Equal(t, "296.00", s.GetLoans()[0].GetPayoff().GetAmount())
	require.Equal(t, "Deposit for 4 drums", s.GetCharges()[0].GetDescription())
	m.charge("M-0002", "5.00")
	require.Equal(t, "below the minimum of $10.00; it is paid with a later batch", m.batch().GetBlocked()[0].GetReason())
	m.charge("M-0002", "5.00")
	require.Equal(t, "7.50", m.batch().GetPayments()[1].GetAmount().GetAmount(), "what was below the minimum is paid with the rest, a quarter to the loan")
}
