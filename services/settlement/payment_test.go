package settlement_test

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// 021000021 and 111000025 are published examples of valid routing numbers.
func (m *market) account(payee, routing string) *settlementv1.PayeeAccount {
	a, err := m.as(office).EnterPayeeAccount(m.t.Context(), &settlementv1.EnterPayeeAccountRequest{
		RequestId: uuid.NewString(), PayeeAccount: &settlementv1.PayeeAccount{Payee: payee, Holder: "Holder of " + payee, RoutingNumber: routing, AccountNumber: "00123456789"},
	})
	require.NoError(m.t, err)
	return a
}

func (m *market) verify(who access.Actor, a *settlementv1.PayeeAccount) error {
	_, err := m.as(who).VerifyPayeeAccount(m.t.Context(), &settlementv1.VerifyPayeeAccountRequest{
		RequestId: uuid.NewString(), Name: a.GetName(), Verification: "called the number on the agreement",
	})
	return err
}

// bank makes both members payable: accounts verified, and the cool-off over.
func (m *market) bank() {
	m.app.From = payment.Originator{Name: "Fallow Creek Honey", Routing: "021000021", BankName: "First Valley Bank", CompanyID: "1234567890"}
	for _, number := range []string{"M-0001", "M-0002"} {
		require.NoError(m.t, m.verify(treasurer, m.account("members/"+number, "111000025")))
	}
	m.clk.Advance(11 * 24 * time.Hour)
}

func (m *market) batch() *settlementv1.PaymentBatch {
	b, err := m.as(office).PreparePayments(m.t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-10-02"})
	require.NoError(m.t, err)
	return b
}

func (m *market) payOut(who access.Actor, b *settlementv1.PaymentBatch) (*settlementv1.PaymentBatch, error) {
	return m.as(who).ReleasePayments(m.t.Context(), &settlementv1.ReleasePaymentsRequest{RequestId: uuid.NewString(), Name: b.GetName(), Fingerprint: b.GetFingerprint()})
}

func (m *market) notice(e *settlementv1.Encumbrance) *settlementv1.Encumbrance {
	out, err := m.as(office).RegisterEncumbrance(m.t.Context(), &settlementv1.RegisterEncumbranceRequest{RequestId: uuid.NewString(), Encumbrance: e})
	require.NoError(m.t, err)
	return out
}

func lien(member, percent string) *settlementv1.Encumbrance {
	return &settlementv1.Encumbrance{
		Member: "members/" + member, Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_LIEN, Creditor: "Valley Farm Credit", Percent: percent,
		Document: "Notice of 2026-09-20", ReceiveDate: "2026-09-20",
	}
}

func TestPaymentsFromBalanceToBank(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	b := m.batch()
	require.Equal(t, "P-2026-001", b.GetNumber())
	require.Empty(t, b.GetBlocked())
	require.Len(t, b.GetPayments(), 2)
	require.Equal(t, "1969.37", b.GetPayments()[0].GetAmount().GetAmount())
	require.Equal(t, "6789", b.GetPayments()[0].GetAccountEnding())
	same := treasurer
	same.Login = office.Login
	_, err := m.payOut(same, b)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": office.Login})
	released, err := m.payOut(treasurer, b)
	require.NoError(t, err)
	require.Equal(t, settlementv1.PaymentState_PAYMENT_STATE_RELEASED, released.GetState())
	require.Equal(t, b.GetTotal().GetAmount(), released.GetTotal().GetAmount())
	require.Equal(t, "-"+b.GetTotal().GetAmount(), m.balances()["assets:bank"])
	require.NotContains(t, m.balances(), "liabilities:members:M-0001")
	_, err = m.payOut(treasurer, b)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASED"})
	s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Equal(t, "Nothing is open between us.", s.GetHeadline())
	require.Equal(t, "1969.37", s.GetPaid().GetAmount())
	require.Equal(t, "2026-10-02", s.GetPayments()[0].GetPaymentDate())
	empty := m.batch()
	require.Empty(t, empty.GetPayments(), "what is paid is not owed any more")
	_, err = m.payOut(treasurer, empty)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOTHING_TO_PAY"})
}

func TestWhatBlocksAPayment(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	reason := func(number string) string {
		for _, b := range m.batch().GetBlocked() {
			if b.GetMember() == "members/"+number {
				return b.GetReason()
			}
		}
		return ""
	}
	require.Equal(t, "waiting for a verified bank account of Orchard Hill Apiary", reason("M-0001"))
	a := m.account("members/M-0001", "111000025")
	require.Equal(t, "waiting for the account ending in 6789 to be verified by calling back", reason("M-0001"))
	enterer := treasurer
	enterer.Login = office.Login
	rpctest.RefusedAs(t, m.verify(enterer, a), errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": office.Login})
	require.NoError(t, m.verify(treasurer, a))
	rpctest.RefusedAs(t, m.verify(treasurer, a), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "VERIFIED"})
	m.clk.Advance(3 * 24 * time.Hour)
	early, err := m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-09-29"})
	require.NoError(t, err)
	require.Contains(t, early.GetBlocked()[0].GetReason(), "the bank details changed lately; money goes to the account ending in 6789 from 2026-09-30 on")
	require.Empty(t, reason("M-0001"))
	open := lien("M-0001", "50.0")
	open.Unresolved = true
	n := m.notice(open)
	require.Equal(t, "a notice of 2026-09-20 is not resolved; until it is, the cooperative could have to pay twice", reason("M-0001"))
	_, err = m.as(office).EndEncumbrance(t.Context(), &settlementv1.EndEncumbranceRequest{RequestId: uuid.NewString(), Name: n.GetName(), EndDocument: "Letter of counsel"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": office.Login})
	_, err = m.as(treasurer).EndEncumbrance(t.Context(), &settlementv1.EndEncumbranceRequest{RequestId: uuid.NewString(), Name: n.GetName(), EndDocument: "Letter of counsel"})
	require.NoError(t, err)
	require.Empty(t, reason("M-0001"))
}

func TestCreditorsArePaidFirst(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	limited := lien("M-0001", "50.0")
	limited.Limit = usd("600.00")
	n := m.notice(limited)
	withheld := lien("M-0001", "24.0")
	withheld.Kind, withheld.Creditor, withheld.ReceiveDate = settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_WITHHOLDING, "Tax authority", "2026-09-25"
	w := m.notice(withheld)
	for _, payee := range []string{n.GetName(), w.GetName()} {
		require.NoError(t, m.verify(treasurer, m.account(payee, "021000021")))
	}
	m.clk.Advance(11 * 24 * time.Hour)
	b, err := m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-10-15"})
	require.NoError(t, err)
	var amounts []string
	for _, p := range b.GetPayments()[:3] {
		amounts = append(amounts, p.GetAmount().GetAmount())
	}
	require.Equal(t, []string{"472.65", "600.00", "896.72"}, amounts, "withholding, then the lien up to its limit, then the member")
	require.Equal(t, w.GetName(), b.GetPayments()[0].GetEncumbrance())
	_, err = m.payOut(treasurer, b)
	require.NoError(t, err)
	list, err := m.as(auditor).ListEncumbrances(t.Context(), &settlementv1.ListEncumbrancesRequest{Member: "members/M-0001"})
	require.NoError(t, err)
	require.Equal(t, "600.00", list.GetEncumbrances()[1].GetTaken().GetAmount())
}

// A lender's notice comes in between the list and the release: that member alone is left out.
func TestNoticeBeforeTheReleaseBlocksThatMemberOnly(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	b := m.batch()
	m.notice(lien("M-0001", "100.0"))
	released, err := m.payOut(treasurer, b)
	require.NoError(t, err)
	require.Len(t, released.GetPayments(), 1)
	require.Equal(t, "members/M-0002", released.GetPayments()[0].GetMember())
	require.Equal(t, "members/M-0001", released.GetBlocked()[0].GetMember())
	require.Equal(t, "waiting for a verified bank account of Valley Farm Credit", released.GetBlocked()[0].GetReason())
	require.Equal(t, "1969.37", m.total("M-0001").GetNetAmount().GetAmount())
}

func TestNobodyReleasesMoneyToThemselves(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	own := treasurer
	own.Member = "members/M-0001"
	released, err := m.payOut(own, m.batch())
	require.NoError(t, err)
	require.Len(t, released.GetPayments(), 1)
	require.Equal(t, "members/M-0002", released.GetPayments()[0].GetMember())
	require.Contains(t, released.GetBlocked()[0].GetReason(), "nobody releases money to themselves")
	err = m.verify(own, m.account("members/M-0001", "021000021"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "INTERESTED"})
}

func TestTwoBatchesPayOnce(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	first, second := m.batch(), m.batch()
	_, err := m.payOut(treasurer, first)
	require.NoError(t, err)
	again, err := m.payOut(treasurer, second)
	require.NoError(t, err)
	require.Empty(t, again.GetPayments())
	require.Contains(t, again.GetBlocked()[0].GetReason(), "has changed since this batch was prepared")
	require.Equal(t, "-"+first.GetTotal().GetAmount(), m.balances()["assets:bank"])
}

func TestTheFileIsHandedOutOnce(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	b := m.batch()
	ask := &settlementv1.ExportPaymentFileRequest{RequestId: uuid.NewString(), Name: b.GetName(), Format: settlementv1.PaymentFormat_PAYMENT_FORMAT_ACH}
	_, err := m.as(treasurer).ExportPaymentFile(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "PREPARED"})
	_, err = m.payOut(treasurer, b)
	require.NoError(t, err)
	file, err := m.as(treasurer).ExportPaymentFile(t.Context(), ask)
	require.NoError(t, err)
	require.Equal(t, "P-2026-001.ach", file.GetFileName())
	require.Equal(t, b.GetTotal().GetAmount(), file.GetTotal().GetAmount())
	sum := sha256.Sum256(file.GetContent())
	require.Equal(t, hex.EncodeToString(sum[:]), file.GetSha256())
	require.Contains(t, string(file.GetContent()), "00123456789")
	same, err := m.as(treasurer).ExportPaymentFile(t.Context(), ask)
	require.NoError(t, err)
	require.True(t, proto.Equal(file, same), "the same request gets the same file")
	ask.RequestId = uuid.NewString()
	_, err = m.as(treasurer).ExportPaymentFile(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "EXPORTED"})
	read, err := m.as(auditor).GetPaymentBatch(t.Context(), &settlementv1.GetPaymentBatchRequest{Name: b.GetName()})
	require.NoError(t, err)
	require.Equal(t, settlementv1.PaymentState_PAYMENT_STATE_EXPORTED, read.GetState())
}

func TestReturnedPaymentIsOwedAgain(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	released, err := m.payOut(treasurer, m.batch())
	require.NoError(t, err)
	name := released.GetPayments()[0].GetName()
	give := func(name string) (*settlementv1.Payment, error) {
		return m.as(office).ReturnPayment(t.Context(), &settlementv1.ReturnPaymentRequest{RequestId: uuid.NewString(), Name: name, Reason: "account closed"})
	}
	back, err := give(name)
	require.NoError(t, err)
	require.Equal(t, "-1969.37", back.GetAmount().GetAmount())
	require.Equal(t, name, back.GetReturns())
	_, err = give(name)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RETURNED"})
	_, err = give(back.GetName())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RETURN"})
	_, err = give("payments/" + uuid.NewString())
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	require.Equal(t, "-1969.37", m.balances()["liabilities:members:M-0001"])
	again := m.batch()
	require.Len(t, again.GetPayments(), 1)
	require.Equal(t, "members/M-0001", again.GetPayments()[0].GetMember())
}

func TestAccountsShowTheirLastFourOnly(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	a := m.account("members/M-0001", "111000025")
	require.Equal(t, "6789", a.GetAccountNumber())
	list, err := m.as(auditor).ListPayeeAccounts(t.Context(), &settlementv1.ListPayeeAccountsRequest{Payee: "members/M-0001"})
	require.NoError(t, err)
	require.NotContains(t, list.String(), "00123456789")
	enter := func(p *settlementv1.PayeeAccount) error {
		_, err := m.as(office).EnterPayeeAccount(t.Context(), &settlementv1.EnterPayeeAccountRequest{RequestId: uuid.NewString(), PayeeAccount: p})
		return err
	}
	rpctest.Faults(t, enter(&settlementv1.PayeeAccount{Payee: "members/M-0001", RoutingNumber: "021000022", AccountNumber: "12 34"}),
		"payee_account.holder", "payee_account.routing_number", "payee_account.account_number")
	rpctest.Faults(t, enter(&settlementv1.PayeeAccount{Payee: "members/M-0001", Holder: "X", Iban: "GB82WEST12345698765423"}), "payee_account.iban")
	rpctest.RefusedAs(t, enter(&settlementv1.PayeeAccount{Payee: "members/M-9999", Holder: "X", Iban: "GB82 WEST 1234 5698 7654 32"}), errorv1.Reason_REASON_NOT_FOUND, nil)
	rpctest.RefusedAs(t, enter(&settlementv1.PayeeAccount{Payee: "encumbrances/" + uuid.NewString(), Holder: "X", Iban: "GB82WEST12345698765432"}), errorv1.Reason_REASON_NOT_FOUND, nil)
}

func TestFaultsOfNoticesAndBatches(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	_, err := m.as(office).RegisterEncumbrance(t.Context(), &settlementv1.RegisterEncumbranceRequest{RequestId: uuid.NewString(), Encumbrance: &settlementv1.Encumbrance{
		Member: "members/M-0001", Percent: "101", Limit: usd("0.00"), ReceiveDate: "2026-09-20", ExpireDate: "2026-09-19",
	}})
	rpctest.Faults(t, err, "encumbrance.kind", "encumbrance.creditor", "encumbrance.percent", "encumbrance.limit", "encumbrance.document", "encumbrance.expire_date")
	_, err = m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-01-01", Minimum: usd("-1.00")})
	rpctest.Faults(t, err, "pay_date", "minimum")
	b := m.batch()
	b.Fingerprint = strings.Repeat("0", 64)
	_, err = m.payOut(treasurer, b)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OTHER_FINGERPRINT"})
	list, err := m.as(auditor).ListPaymentBatches(t.Context(), &settlementv1.ListPaymentBatchesRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetPaymentBatches(), 1)
}
