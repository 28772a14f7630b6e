package settlement_test

import (
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

func statementOf(number string) *settlementv1.GetStatementRequest {
	return &settlementv1.GetStatementRequest{Member: "members/" + number, CropYear: 2026}
}

func TestStatement(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.app.House = "Fallow Creek Honey Cooperative"
	m.take(closed(ticket("FC-2026-000003", "M-0001", barrelOf{"FC-9", "640.0", "clover"})))
	mine := m.as(rpctest.Member("M-0001"))
	s, err := mine.GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.Equal(t, "We owe you $1,969.37. 1 barrel waits for its price.", s.GetHeadline())
	require.Equal(t, "Orchard Hill Apiary", s.GetDisplayName())
	require.Len(t, s.GetPayouts(), 3)
	require.Equal(t, "waiting for its certificate", s.GetUnpriced()[0].GetReason())
	require.Equal(t, "1969.37", s.GetTotal().GetNetAmount().GetAmount())
	require.Equal(t, "1925.5", s.GetTotal().GetNet().GetValue())
	require.Equal(t, int32(4), s.GetTotal().GetBarrels())
	require.Equal(t, "1969.37", s.GetBalance().GetAmount())

	m.clk.Advance(72 * time.Hour)
	later, err := mine.GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.NotEqual(t, s.GetStatementDate(), later.GetStatementDate())
	require.Equal(t, s.GetVerificationCode(), later.GetVerificationCode(), "the same content has the same code")
	m.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000003", "M-0001")})
	other, err := mine.GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	require.NotEqual(t, s.GetVerificationCode(), other.GetVerificationCode())

	for _, missing := range []string{"M-0002", "M-9999"} {
		_, err = mine.GetStatement(t.Context(), statementOf(missing))
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/" + missing})
		_, err = mine.RenderStatement(t.Context(), &settlementv1.RenderStatementRequest{Member: "members/" + missing, CropYear: 2026})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/" + missing})
	}
}

func TestStatementTotalsAgreeAfterTheClosing(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.settled()
	m.take(&intakev1.TicketReissued{OldTicket: ticket("FC-2026-000002", "M-0002"), NewTicket: ticket("FC-2026-000009", "M-0001", barrelOf{"FC-4", "640.0", "clover"})})
	for _, number := range []string{"M-0001", "M-0002"} {
		s, err := m.as(office).GetStatement(t.Context(), statementOf(number))
		require.NoError(t, err)
		want := m.total(number)
		require.Equal(t, want.String(), s.GetTotal().String())
	}
}

// pdftotext is a reader nobody here wrote.
func pdfText(t testing.TB, pdf []byte) string { return pdfBy(t, "-layout", pdf) }

// pdfInOrder reads in the order things were set: words that need several lines stay together.
func pdfInOrder(t testing.TB, pdf []byte) string { return pdfBy(t, "-raw", pdf) }

func pdfBy(t testing.TB, order string, pdf []byte) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "pdftotext", order, "-", "-")
	cmd.Stdin = strings.NewReader(string(pdf))
	out, err := cmd.Output()
	require.NoError(t, err)
	return strings.Join(strings.Fields(string(out)), " ")
}

func TestStatementOnPaper(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.app.House = "Fallow Creek Honey Cooperative"
	req := &settlementv1.RenderStatementRequest{Member: "members/M-0001", CropYear: 2026}
	doc, err := m.as(rpctest.Member("M-0001")).RenderStatement(t.Context(), req)
	require.NoError(t, err)
	require.Equal(t, "statement-M-0001-2026.pdf", doc.GetFileName())
	text := pdfText(t, doc.GetContent())
	s, err := m.as(office).GetStatement(t.Context(), statementOf("M-0001"))
	require.NoError(t, err)
	for _, want := range []string{
		"Fallow Creek Honey Cooperative", "Statement for crop year 2026", "Orchard Hill Apiary, member M-0001", s.GetHeadline(),
		"645.0 lb × (100 – 19.2) ÷ (100 – 18.6) = 640.2 lb; 640.2 lb × $0.98 = $627.40", "Certificate G-FC-3-1",
		"Barrel FC-3 measured 19.2 % water.", "By Marketing agreement 2026, article 7", "–12.90 USD", "1,969.37 USD", "This is not tax or legal advice.",
		"Verification code " + s.GetVerificationCode(), "page 1 of 2",
	} {
		require.Contains(t, text, want)
	}
	m.bank()
	_, err = m.payOut(treasurer, m.batch())
	require.NoError(t, err)
	m.take(closed(ticket("FC-2026-000003", "M-0001", barrelOf{"FC-9", "640.0", "clover"})))
	paid, err := m.as(office).RenderStatement(t.Context(), req)
	require.NoError(t, err)
	for _, want := range []string{"Nothing is open between us. 1 barrel waits for its price.", "Barrel FC-9, delivered 2026-09-14: waiting for its certificate", "account ending in 6789: balance of", "1,969.37 USD"} {
		require.Contains(t, pdfText(t, paid.GetContent()), want)
	}
	doc = paid
	again, err := m.as(office).RenderStatement(t.Context(), req)
	require.NoError(t, err)
	require.Equal(t, doc.GetContent(), again.GetContent(), "the same statement at the same moment has the same bytes")
}
