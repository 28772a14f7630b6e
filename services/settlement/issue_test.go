package settlement_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpctest"
)

func (m *market) print(number string) *settlementv1.StatementDocument {
	doc, err := m.as(rpctest.Member(number)).RenderStatement(m.t.Context(), &settlementv1.RenderStatementRequest{Member: "members/" + number, CropYear: 2026})
	require.NoError(m.t, err)
	return doc
}

func (m *market) isGenuine(code string) *settlementv1.VerifyStatementResponse {
	v, err := m.as(access.Actor{}).VerifyStatement(m.t.Context(), &settlementv1.VerifyStatementRequest{VerificationCode: code})
	require.NoError(m.t, err)
	return v
}

// What is put on paper has a number; the same content keeps it, other content replaces it; and whoever holds the paper can ask,
// without a login, whether it is what was printed.
func TestStatementsOnPaperAreNumberedAndVerified(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	doc := m.print("M-0001")
	require.Contains(t, pdfText(t, doc.GetContent()), "Statement M-0001/2026/1 · Verification code "+doc.GetVerificationCode())
	require.Equal(t, doc.GetVerificationCode(), m.print("M-0001").GetVerificationCode())
	v := m.isGenuine(doc.GetVerificationCode())
	require.True(t, v.GetGenuine())
	require.Equal(t, "Statement M-0001/2026/1 was printed here on 2026-09-20 with a balance of $1,969.37.", v.GetHeadline())
	forged := m.isGenuine("0123456789abcdef")
	require.False(t, forged.GetGenuine())
	require.Contains(t, forged.GetHeadline(), "No statement with this code was printed here")
	_, err := m.as(access.Actor{}).VerifyStatement(t.Context(), &settlementv1.VerifyStatementRequest{VerificationCode: "1"})
	rpctest.Faults(t, err, "verification_code")

	m.charge("M-0001", "-30.00")
	second := m.print("M-0001")
	text := pdfText(t, second.GetContent())
	require.Contains(t, text, "Statement M-0001/2026/2")
	require.Contains(t, text, "It replaces M-0001/2026/1, whose balance was 1,969.37 USD")
	require.True(t, m.isGenuine(doc.GetVerificationCode()).GetSuperseded())
	require.False(t, m.isGenuine(second.GetVerificationCode()).GetSuperseded())
	list, err := m.as(rpctest.Member("M-0001")).ListIssuedStatements(t.Context(), &settlementv1.ListIssuedStatementsRequest{Member: "members/M-0001"})
	require.NoError(t, err)
	require.Len(t, list.GetStatements(), 2)
	require.Equal(t, "M-0001/2026/2", list.GetStatements()[1].GetSupersededBy())
	_, err = m.as(rpctest.Member("M-0002")).ListIssuedStatements(t.Context(), &settlementv1.ListIssuedStatementsRequest{Member: "members/M-0001"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0001"})
}

// amounts are all amounts of money and all weights in a message, as they are set in print.
func amounts(m protoreflect.Message, into map[string]bool) {
	switch v := m.Interface().(type) {
	case *typev1.Money:
		unsigned, negative := strings.CutPrefix(v.GetAmount(), "-")
		text := quantity.Grouped(unsigned) + " " + v.GetCurrencyCode()
		if negative {
			text = "–" + text
		}
		into[text] = true
		return
	case *typev1.Price:
		return // a rate stands in the calculation it is part of, which is compared as a whole
	}
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.IsMap() || f.Message() == nil:
		case f.IsList():
			for i := range v.List().Len() {
				amounts(v.List().Get(i).Message(), into)
			}
		default:
			amounts(v.Message(), into)
		}
		return true
	})
}

// Every amount of the statement, every calculation and every reason is on the paper, read by a program nobody here wrote.
func TestThePaperHoldsEveryNumberOfTheStatement(t *testing.T) {
	t.Parallel()
	m := retaining(t)
	m.app.House = "Fallow Creek Honey Cooperative"
	require.NoError(t, m.designate(2025, true, "Marketing agreement, article 12"))
	_, err := m.refund("100.01", "20", true)
	require.NoError(t, err)
	_, err = m.as(board).RedeemEquity(t.Context(), redeem(2025, "50"))
	require.NoError(t, err)
	m.charge("M-0001", "-30.00")
	_, err = m.lend(m.propose("M-0001", settlementv1.LoanPurpose_LOAN_PURPOSE_CASH, "400.00", "25"))
	require.NoError(t, err)
	n := m.notice(lien("M-0001", "10.0"))
	m.bank()
	require.NoError(t, m.verify(treasurer, m.account(n.GetName(), "021000021")))
	b, err := m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-10-20"})
	require.NoError(t, err)
	_, err = m.payOut(treasurer, b)
	require.NoError(t, err)

	doc := m.print("M-0001")
	s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Equal(t, "0.00", s.GetBalance().GetAmount())
	require.Len(t, s.GetEquity(), 3)
	require.Equal(t, "lien", s.GetCreditors()[0].GetRight())
	require.Equal(t, s.GetPaid().GetAmount(), s.GetPaidThisYear().GetAmount())
	require.Negative(t, strings.Compare(s.GetLoanMovements().GetAmount(), "0"), "taken for the loan")
	text := pdfInOrder(t, doc.GetContent())
	wanted := map[string]bool{}
	for _, part := range []interface{ ProtoReflect() protoreflect.Message }{s.GetTotal(), s.GetPaid(), s.GetBalance(), s.GetRedeemed(), s.GetPatronage(), s.GetLoanMovements(), s.GetPaidThisYear()} {
		amounts(part.ProtoReflect(), wanted)
	}
	for _, p := range s.GetPayouts() {
		for _, l := range p.GetLines() {
			amounts(l.GetAmount().ProtoReflect(), wanted)
			wanted[plain(l.GetExplanation().GetCalculation())] = true
			wanted[plain(l.GetExplanation().GetAuthority())] = true
		}
		amounts(p.GetNetAmount().ProtoReflect(), wanted)
	}
	for _, c := range s.GetCharges() {
		amounts(c.ProtoReflect(), wanted)
		wanted[c.GetDescription()], wanted[c.GetAuthority()] = true, true
	}
	for _, l := range s.GetLoans() {
		for _, a := range []*typev1.Money{l.GetPrincipal(), l.GetPrincipalDue(), l.GetInterestDue(), l.GetPayoff()} {
			amounts(a.ProtoReflect(), wanted)
		}
		wanted[plain(l.GetCalculation())] = true
	}
	for _, l := range s.GetEquity() {
		amounts(l.ProtoReflect(), wanted)
	}
	for _, c := range s.GetCreditors() {
		amounts(c.ProtoReflect(), wanted)
	}
	for _, p := range s.GetPayments() {
		amounts(p.ProtoReflect(), wanted)
		wanted[plain(p.GetDescription())] = true
	}
	for _, note := range s.GetNotes() {
		wanted[note] = true
	}
	require.Greater(t, len(wanted), 30)
	for want := range wanted {
		if !strings.Contains(text, want) {
			t.Errorf("the paper lacks %q", want)
		}
	}
	require.Regexp(t, `page 1 of [2-9]`, text)
}

// plain is text as the paper's font has it.
func plain(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "−", "–")), " ")
}

// A member compares itself with its pool; with fewer than five members in it, nobody else's figures can be had.
func TestTheStatementComparesWithThePool(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.settled()
	few, err := m.as(rpctest.Member("M-0002")).GetStatement(t.Context(), statementOf("M-0002"))
	require.NoError(t, err)
	require.Equal(t, "2.204813", few.GetPools()[0].GetOwnAverage().GetAmount(), "1,411.08 for 640.0 lb")
	require.Nil(t, few.GetPools()[0].GetAverage())
	require.Nil(t, few.GetPools()[0].GetPayable())
	text := pdfInOrder(t, m.print("M-0002").GetContent())
	require.Contains(t, text, "Your honey came to 2.204813 USD on average for each lb. What the others came to is not shown: the pool has too few members. Fingerprint of the run "+few.GetPools()[0].GetFingerprint())

	many := openMarket(t)
	for i := range 3 {
		number, tag := fmt.Sprintf("M-000%d", i+3), fmt.Sprintf("FC-7%d", i)
		many.take(member(number, "Yard "+tag))
		many.take(sampled(tag))
		many.take(closed(ticket("T-"+tag, number, barrelOf{tag, "640.0", "clover"})))
		many.take(graded(tag, 1, "17.0", "WHITE", "A"))
	}
	many.sells("9000.00")
	many.settled()
	got, err := many.as(rpctest.Member("M-0002")).GetStatement(t.Context(), statementOf("M-0002"))
	require.NoError(t, err)
	require.Equal(t, "4478.3", got.GetPools()[0].GetPayable().GetValue(), "2558.3 lb and three barrels of 640.0")
	require.NotNil(t, got.GetPools()[0].GetAverage())
}
