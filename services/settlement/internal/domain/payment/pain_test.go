package payment_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

// checkPAIN is what a bank looks at first, written from the message's published rules and not from the writer: one group header,
// counts and control sums that equal the content at both levels, identifiers of at most 35 characters, each once, accounts with
// their check digits, and one currency. Sums are counted in cents.
func checkPAIN(raw []byte) error {
	var doc node
	if err := xml.Unmarshal(raw, &doc); err != nil {
		return err
	}
	if doc.XMLName.Space != "urn:iso:std:iso:20022:tech:xsd:pain.001.001.09" || doc.XMLName.Local != "Document" {
		return errors.New("another message")
	}
	blocks, transfers := doc.at("CstmrCdtTrfInitn", "PmtInf"), doc.at("CstmrCdtTrfInitn", "PmtInf", "CdtTrfTxInf")
	if len(doc.at("CstmrCdtTrfInitn", "GrpHdr")) != 1 || len(blocks) != 1 || len(transfers) == 0 {
		return errors.New("not one group, one block and transfers")
	}
	var sum quantity.Money
	ids, currencies := map[string]bool{}, map[string]bool{}
	for _, t := range transfers {
		for _, path := range [][]string{{"PmtId", "EndToEndId"}, {"Amt", "InstdAmt"}, {"CdtrAcct", "Id", "IBAN"}, {"Cdtr", "Nm"}} {
			if len(t.at(path...)) != 1 {
				return fmt.Errorf("not one of %v", path)
			}
		}
		amount, err := quantity.ParseMoney(t.at("Amt", "InstdAmt")[0].Text)
		if err != nil || amount <= 0 {
			return fmt.Errorf("amount %d: %w", amount, err)
		}
		if err := checkdigit.ValidIBAN(t.at("CdtrAcct", "Id", "IBAN")[0].Text); err != nil {
			return err
		}
		sum += amount
		ids[t.at("PmtId", "EndToEndId")[0].Text] = true
		currencies[t.at("Amt", "InstdAmt")[0].Attrs[0].Value] = true
	}
	for id := range ids {
		if len(id) < 1 || len(id) > 35 {
			return errors.New("an identifier is empty or too long")
		}
	}
	if len(ids) != len(transfers) || len(currencies) != 1 {
		return errors.New("identifiers repeat, or currencies are mixed")
	}
	for _, level := range []string{"GrpHdr", "PmtInf"} {
		count, total := doc.at("CstmrCdtTrfInitn", level, "NbOfTxs"), doc.at("CstmrCdtTrfInitn", level, "CtrlSum")
		if len(count) != 1 || count[0].Text != strconv.Itoa(len(transfers)) || len(total) != 1 || total[0].Text != sum.String() {
			return errors.New("the count or the control sum is not the content's: " + level)
		}
	}
	return nil
}

func TestCreditTransfersHoldWhatABankChecks(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		// Published example numbers.
		accounts := []string{iban, "DE89370400440532013000", "FR1420041010050500013M02606"}
		var transfers []payment.Transfer
		for range rapid.IntRange(1, 30).Draw(t, "payments") {
			transfers = append(transfers, transfer(quantity.Money(rapid.Int64Range(1, 1e12).Draw(t, "amount")), payment.Account{
				Holder: rapid.StringMatching(`[A-Za-zäöü<&> ]{1,40}`).Draw(t, "holder"), IBAN: rapid.SampledFrom(accounts).Draw(t, "iban"),
			}))
		}
		f := file(transfers...)
		f.Currency = "EUR"
		raw, err := f.PAIN()
		require.NoError(t, err)
		require.NoError(t, checkPAIN(raw))
	})
}

// The check sees each of these, so its silence above means something.
func TestBrokenCreditTransfersAreRefused(t *testing.T) {
	t.Parallel()
	f := file(transfer(1969_37, payment.Account{Holder: "Orchard Hill Apiary", IBAN: iban}), transfer(2_00, payment.Account{Holder: "Three Oaks", IBAN: "DE89370400440532013000"}))
	f.Currency = "EUR"
	raw, err := f.PAIN()
	require.NoError(t, err)
	require.NoError(t, checkPAIN(raw))
	for name, change := range map[string][2]string{
		"an amount": {`EUR">1969.37`, `EUR">1969.38`}, "a control sum": {"<CtrlSum>1971.37", "<CtrlSum>1971.36"}, "a count": {"<NbOfTxs>2", "<NbOfTxs>3"},
		"a check digit": {"DE89", "DE88"}, "an identifier twice": {"P-2026-001-2", "P-2026-001-1"}, "a currency": {`Ccy="EUR">2.00`, `Ccy="USD">2.00`},
		"another version": {"pain.001.001.09", "pain.001.001.03"}, "cut off": {"</Document>", ""}, "a negative amount": {`EUR">2.00`, `EUR">-2.00`},
	} {
		require.Contains(t, string(raw), change[0], name)
		require.Error(t, checkPAIN(bytes.Replace(raw, []byte(change[0]), []byte(change[1]), 1)), name)
	}
}
