package settlement_test

import (
	"encoding/csv"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpctest"
)

func (m *market) balances() map[string]string {
	b, err := m.as(auditor).GetTrialBalance(m.t.Context(), &settlementv1.GetTrialBalanceRequest{})
	require.NoError(m.t, err)
	require.Equal(m.t, b.GetDebits().GetAmount(), b.GetCredits().GetAmount())
	out := map[string]string{}
	for _, a := range b.GetAccounts() {
		out[a.GetAccount()] = a.GetBalance().GetAmount()
	}
	return out
}

func (m *market) journal(req *settlementv1.ExportJournalRequest) string {
	stream, err := m.as(auditor).ExportJournal(m.t.Context(), req)
	require.NoError(m.t, err)
	var text strings.Builder
	for {
		piece, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return text.String()
		}
		require.NoError(m.t, err)
		text.WriteString(piece.GetText())
	}
}

// hledger is a plain-text accounting program nobody here wrote.
func hledger(t *testing.T, journal string, args ...string) string {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), "hledger", append([]string{"-f", "-"}, args...)...)
	cmd.Stdin = strings.NewReader(journal)
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, string(out))
	return string(out)
}

func TestEveryAmountIsBookedTwice(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	owed := func(member string) string { return m.total(member).GetNetAmount().GetAmount() }
	require.Equal(t, "-"+owed("M-0001"), m.balances()["liabilities:members:M-0001"])
	m.sells("5500.00")
	m.spends("600.00")
	require.Equal(t, "-5500.00", m.balances()["income:proceeds:2026"])
	r := m.settled()
	after := m.balances()
	require.Equal(t, "-"+r.GetResidual().GetAmount(), after["equity:residual:2026"], "what is left over stays in the open")
	for _, gone := range []string{"income:proceeds:2026", "expenses:costs:2026", "expenses:honey:2026"} {
		require.NotContains(t, after, gone, "a closed pool is off the year's accounts")
	}
	require.Equal(t, "-"+owed("M-0002"), after["liabilities:members:M-0002"])
	require.Equal(t, "-51.31", after["income:charges:HAULING"])
}

func TestRetainsAreTheMembersOwnCapital(t *testing.T) {
	t.Parallel()
	h := open(t)
	s := prices("2026-07-01")
	s.Deductions[1].Retained = true
	h.adopt(s)
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})))
	h.take(sampled("FC-1"))
	h.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	m := &market{house: h, as: h.serve()}
	require.Equal(t, "-19.20", m.balances()["equity:retains:2026:members:M-0001"])
	require.Equal(t, "19.20", h.total("M-0001").GetRetained().GetAmount())
	require.Equal(t, "-32.00", h.total("M-0001").GetDeductions().GetAmount())
	line := h.payouts("M-0001")[0].GetLines()[2]
	require.Equal(t, settlementv1.LineKind_LINE_KIND_RETAIN, line.GetKind())
	require.Contains(t, line.GetExplanation().GetRule(), "It stays yours")
}

func TestAnOutsideCheckerReadsTheJournal(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.spends("600.00")
	m.settled()
	m.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000002", "M-0002")})
	text := m.journal(&settlementv1.ExportJournalRequest{})
	hledger(t, text, "check")
	ours := m.balances()
	theirs := map[string]string{}
	for line := range strings.Lines(hledger(t, text, "balance", "--flat", "--no-total", "--no-elide", "-N", "--layout=bare")) {
		fields := strings.Fields(line)
		require.GreaterOrEqual(t, len(fields), 3, line)
		theirs[fields[len(fields)-1]] = fields[0]
	}
	require.Equal(t, ours, theirs)
	require.Equal(t, []string{"0", "..."}, strings.Fields(hledger(t, text, "balance", "--depth", "0", "-N")))
}

func TestJournalOfSomeDays(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	require.NotContains(t, m.journal(&settlementv1.ExportJournalRequest{ThroughDate: "2026-12-31"}), "Sales of the season")
	late := m.journal(&settlementv1.ExportJournalRequest{FromDate: "2027-05-31"})
	require.Contains(t, late, "2027-05-31 (poolEntries/")
	require.NotContains(t, late, "Advance")
	stream, err := m.as(auditor).ExportJournal(t.Context(), &settlementv1.ExportJournalRequest{FromDate: "May"})
	require.NoError(t, err)
	_, err = stream.Recv()
	rpctest.Faults(t, err, "from_date")
}

func TestTheJournalRefusesToBeOutOfBalance(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	_, err := m.db.Pool().Exec(t.Context(), `INSERT INTO journal (source, entry_date, description, accounts, amounts, record_time)
		VALUES ('x', '2026-01-01', 'x', '{a,b}', '{1,-2}', '2026-01-01')`)
	require.ErrorContains(t, err, "journal_balanced")
	m.asOwner(`UPDATE journal SET accounts[4] = 'elsewhere' WHERE entry = (SELECT max(entry) FROM journal)`)
	_, err = m.as(auditor).GetTrialBalance(t.Context(), &settlementv1.GetTrialBalanceRequest{})
	require.Equal(t, "TOTAL_DISAGREES", apierr.Parse(err).Reason, "balanced, but not what the payouts say: %v", errorv1.Reason_REASON_TOTAL_DISAGREES)
}

// The table holds what the text holds: every posting, debits and credits apart, to the cent.
func TestTheJournalAsATable(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.settled()
	raw := m.journal(&settlementv1.ExportJournalRequest{Format: settlementv1.JournalFormat_JOURNAL_FORMAT_CSV})
	rows, err := csv.NewReader(strings.NewReader(raw)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"date", "entry", "source", "description", "account", "debit", "credit", "currency"}, rows[0])
	sums, entries := map[string]quantity.Money{}, map[string]quantity.Money{}
	amount := func(text string) quantity.Money {
		if text == "" {
			return 0
		}
		value, err := quantity.ParseMoney(text)
		require.NoError(t, err)
		require.GreaterOrEqual(t, value, quantity.Money(0))
		return value
	}
	for _, r := range rows[1:] {
		require.True(t, r[5] == "" || r[6] == "", "%v", r)
		by := amount(r[5]) - amount(r[6])
		sums[r[4]], entries[r[1]] = sums[r[4]]+by, entries[r[1]]+by
	}
	for entry, sum := range entries {
		require.Zero(t, sum, "entry %s", entry)
	}
	for account, balance := range m.balances() {
		require.Equal(t, balance, sums[account].String(), account)
	}
}
