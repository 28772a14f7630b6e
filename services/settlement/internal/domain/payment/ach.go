package payment

import (
	"fmt"
	"strings"

	"barrelhead.example/services/kit/checkdigit"
)

// Fixed figures of the Nacha file (record layout from memory, read back by an independent reader in the tests).
const (
	recordLength   = 94
	blockingFactor = 10
	creditsOnly    = 220
	creditChecking = 22
	creditSavings  = 32
	// hashModulus: the entry hash is the low ten digits of the sum of the banks' first eight routing digits.
	hashModulus = 10_000_000_000
	mostAmount  = 9_999_999_999
)

// ACH writes a file of credits, one batch of entry class PPD. Errors: *domain.StateError where the cooperative's bank details
// are not set, or a payee has no ACH account.
func (f File) ACH() ([]byte, error) {
	total, err := f.Total()
	if err != nil {
		return nil, err
	}
	if f.Currency != "USD" {
		return nil, f.forbids("CURRENCY", "an ACH file carries USD only; this cooperative pays in "+f.Currency)
	}
	if checkdigit.ValidABA(f.From.Routing) != nil || f.From.CompanyID == "" {
		return nil, f.forbids("NO_ORIGINATOR", "the settings give no valid routing number and company id of the cooperative")
	}
	w := &achWriter{file: f}
	w.header()
	for i, t := range f.Transfers {
		if t.Target.Routing == "" {
			return nil, f.forbids("NO_ACH_ACCOUNT", fmt.Sprintf("%s has no routing number; pay it by credit transfer in a batch of its own", t.To))
		}
		if t.Amount > mostAmount {
			return nil, f.forbids("TOO_LARGE", fmt.Sprintf("%v to %s does not fit the ten digits of an entry", t.Amount, t.To))
		}
		w.entry(i+1, t)
	}
	w.trailer(int64(total))
	return w.bytes()
}

type achWriter struct {
	file    File
	records []string
	hash    int64
}

// record joins fields and leaves the length to be checked at the end.
func (w *achWriter) record(fields ...string) { w.records = append(w.records, strings.Join(fields, "")) }

// left is a text field: cut or filled with spaces.
func left(s string, width int) string { return fmt.Sprintf("%-*.*s", width, width, ascii(s)) }

// digits is a numeric field, filled with zeros.
func digits(n int64, width int) string { return fmt.Sprintf("%0*d", width, n) }

func (w *achWriter) date() string { return strings.ReplaceAll(string(w.file.PayDate), "-", "")[2:] }

func (w *achWriter) header() {
	from := w.file.From
	w.record("1", "01", " ", from.Routing, fmt.Sprintf("%10.10s", ascii(from.CompanyID)), w.file.Made.Format("0601021504"), "A",
		digits(recordLength, 3), digits(blockingFactor, 2), "1", left(from.BankName, 23), left(from.Name, 23), left("", 8))
	w.record("5", digits(creditsOnly, 3), left(from.Name, 16), left(w.file.Number, 20), fmt.Sprintf("%10.10s", ascii(from.CompanyID)), "PPD", left("HONEY PAY", 10),
		w.date(), w.date(), "   ", "1", from.Routing[:8], digits(1, 7))
}

func (w *achWriter) entry(trace int, t Transfer) {
	code := int64(creditChecking)
	if t.Target.Savings {
		code = creditSavings
	}
	w.hash += number(t.Target.Routing[:8])
	w.record("6", digits(code, 2), t.Target.Routing, left(t.Target.Number, 17), digits(int64(t.Amount), 10), left(shortName(t.Member), 15), left(t.Target.Holder, 22),
		"  ", "0", w.file.From.Routing[:8], digits(int64(trace), 7))
}

// shortName is the number in "members/M-0001".
func shortName(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

func number(decimal string) (n int64) {
	for _, r := range decimal {
		n = 10*n + int64(r-'0')
	}
	return n
}

func (w *achWriter) trailer(total int64) {
	entries, hash := int64(len(w.file.Transfers)), digits(w.hash%hashModulus, 10)
	w.record("8", digits(creditsOnly, 3), digits(entries, 6), hash, digits(0, 12), digits(total, 12), fmt.Sprintf("%10.10s", ascii(w.file.From.CompanyID)),
		left("", 19), left("", 6), w.file.From.Routing[:8], digits(1, 7))
	blocks := (len(w.records) + 1 + blockingFactor - 1) / blockingFactor
	w.record("9", digits(1, 6), digits(int64(blocks), 6), digits(entries, 8), hash, digits(0, 12), digits(total, 12), left("", 39))
	for len(w.records)%blockingFactor != 0 {
		w.record(strings.Repeat("9", recordLength))
	}
}

func (w *achWriter) bytes() ([]byte, error) {
	for i, r := range w.records {
		if len(r) != recordLength {
			return nil, fmt.Errorf("record %d of the payment file has %d characters instead of %d", i+1, len(r), recordLength)
		}
	}
	return []byte(strings.Join(w.records, "\n") + "\n"), nil
}
