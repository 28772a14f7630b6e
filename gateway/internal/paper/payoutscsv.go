package paper

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"time"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// byteOrderMark tells spreadsheet programs that the text is UTF-8; without it they garble × and −.
const byteOrderMark = "\ufeff"

var payoutHead = []string{
	"payout", "priced", "kind", "ticket_number", "delivery_date", "crop_year", "drum_tag", "net", "payable", "unit", "line", "what", "quantity", "rate",
	"amount", "currency", "rule", "calculation", "readings", "authority", "certificate_number", "headline", "reason",
}

// payoutsCSV writes one row for each line of each payout, oldest first. Amounts are plain decimals, so that the column adds
// up to what the member was credited.
func (p *press) payoutsCSV(a account) ([]byte, error) {
	rows := [][]string{payoutHead}
	for _, payout := range a.payouts {
		for _, l := range payout.GetLines() {
			rows = append(rows, payoutRow(payout, l))
		}
	}
	return writeCSV(rows)
}

func payoutRow(p *settlementv1.Payout, l *settlementv1.PayoutLine) []string {
	e := l.GetExplanation()
	return []string{
		last(p.GetName()), p.GetPriceTime().AsTime().UTC().Format(time.RFC3339), kinds[p.GetKind()], guard(p.GetTicketNumber()), p.GetDeliveryDate(), fmt.Sprint(p.GetCropYear()),
		guard(p.GetDrumTag()), p.GetNet().GetValue(), p.GetPayable().GetValue(), p.GetNet().GetUnit(), fmt.Sprint(l.GetLine()), guard(l.GetDescription()),
		l.GetQuantity().GetValue(), l.GetRate().GetAmount(), l.GetAmount().GetAmount(), l.GetAmount().GetCurrencyCode(), guard(e.GetRule()), guard(e.GetCalculation()),
		guard(strings.Join(e.GetReadings(), "; ")), guard(e.GetAuthority()), guard(e.GetCertificateNumber()), guard(p.GetHeadline()), guard(p.GetReason()),
	}
}

// guard keeps a spreadsheet program from running a text as a formula. unguard takes it back.
func guard(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r'", rune(text[0])) {
		return "'" + text
	}
	return text
}

func unguard(text string) string {
	if len(text) > 1 && text[0] == '\'' && strings.ContainsRune("=+-@\t\r'", rune(text[1])) {
		return text[1:]
	}
	return text
}

func writeCSV(rows [][]string) ([]byte, error) {
	var out bytes.Buffer
	out.WriteString(byteOrderMark)
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	if err := w.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("write CSV: %w", err)
	}
	return out.Bytes(), nil
}
