package paper

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
)

func TestPayoutsPDF_OpensEveryAmount(t *testing.T) {
	t.Parallel()
	pdf, err := testPress(t, prefix).payoutsPDF(testAccount(t))
	require.NoError(t, err)
	text := wordsOf(t, pdf)
	for _, wanted := range []string{
		"M-0012 Juniper Ridge Bees", "$479.03 credited to you, before payments made.", "$494.83", "−$12.80", "−$3.00", "Advance · barrel FC-04417", "$683.03",
		"so 4.7 lb of 640.0 lb is not paid (about $5.17)", "640.0 lb × (100 − 19.2) ÷ (100 − 18.6) = 635.3 lb; 635.3 lb × $1.10 = $698.83",
		"Measured: refractive index 1.4868 at 21.0 °C on RF-2: 19.2 %.", "Allowed by: Marketing agreement 2026, article 7.", "Certificate G-2026-000412.",
		"Taken back · barrel FC-04105", "−$204.00", "Why: ticket FC-2026-000655 was recorded to you by mistake.", "Credited to you so far: $479.03",
		"Barrel FC-04420, delivered 11 Sep 2026: waiting for its certificate.", "This is not tax or legal advice.", "not for infants under 12 months", "page 1 of 1",
	} {
		require.Contains(t, text, wanted)
	}
	require.Less(t, strings.Index(text, "Advance · barrel"), strings.Index(text, "Taken back · barrel"), "oldest first")
}

func TestPayoutsPDF_SaysWhoOwesWhom(t *testing.T) {
	t.Parallel()
	only := testPayouts()[:1]
	a, err := newAccount(testMember(), only, nil, "USD")
	require.NoError(t, err)
	require.Equal(t, "You owe $204.00: more was taken back than credited.", headline(a))
	none, err := newAccount(testMember(), nil, nil, "USD")
	require.NoError(t, err)
	require.Equal(t, "Nothing has been credited to you yet.", headline(none))
	_, err = testPress(t, prefix).payoutsPDF(none)
	require.NoError(t, err)
}

func TestPayoutsCSV_AddsUpToWhatWasCredited(t *testing.T) {
	t.Parallel()
	content, err := testPress(t, prefix).payoutsCSV(testAccount(t))
	require.NoError(t, err)
	rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(content, []byte(byteOrderMark)))).ReadAll()
	require.NoError(t, err)
	require.Equal(t, payoutHead, rows[0])
	require.Len(t, rows, 1+4)
	amount := position(t, rows[0], "amount")
	var sum quantity.Money
	for _, row := range rows[1:] {
		m, err := quantity.ParseMoney(row[amount])
		require.NoError(t, err)
		sum += m
	}
	require.Equal(t, "479.03", sum.String())
	require.Equal(t, "640.0 lb × (100 − 19.2) ÷ (100 − 18.6) = 635.3 lb; 635.3 lb × $1.10 = $698.83", rows[1][position(t, rows[0], "calculation")])
	require.Equal(t, "Marketing agreement 2026, article 7", rows[2][position(t, rows[0], "authority")])
	require.Equal(t, "Taken back", rows[4][position(t, rows[0], "kind")])
}

func position(t *testing.T, head []string, name string) int {
	t.Helper()
	for i, cell := range head {
		if cell == name {
			return i
		}
	}
	require.Fail(t, "no column "+name)
	return 0
}

func TestPayoutsCSV_RunsNothingInASpreadsheet(t *testing.T) {
	t.Parallel()
	payouts := testPayouts()
	payouts[1].Lines[0].Description = `=HYPERLINK("x")`
	a, err := newAccount(testMember(), payouts, nil, "USD")
	require.NoError(t, err)
	content, err := testPress(t, prefix).payoutsCSV(a)
	require.NoError(t, err)
	require.Contains(t, string(content), `"'=HYPERLINK(""x"")"`)
	for _, text := range []string{"=1", "'=1", "''", "+", "plain", "", "'plain", "−5"} {
		require.Equal(t, text, unguard(guard(text)))
	}
}

func TestAccount_RefusesWhatDoesNotAddUp(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*settlementv1.Payout){
		"a cent more":      func(p *settlementv1.Payout) { p.NetAmount = usd("683.04") },
		"another currency": func(p *settlementv1.Payout) { p.Lines[0].Amount.CurrencyCode = "CAD" },
		"no number":        func(p *settlementv1.Payout) { p.GrossAmount = usd("much") },
	} {
		payouts := testPayouts()
		change(payouts[1])
		_, err := newAccount(testMember(), payouts, nil, "USD")
		require.Error(t, err, name)
	}
}
