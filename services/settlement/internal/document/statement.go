// Package document sets what members print and take to the bank.
package document

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/settlement/internal/domain"
)

// Measures in millimetres on a letter sheet. Large type: it is read at the kitchen table.
const (
	margin     = 18.0
	lineHeight = 5.5
	amountWide = 36.0
	bodySize   = 11.0
	smallSize  = 9.0
	titleSize  = 18.0
	font       = "Helvetica"
)

type page struct {
	*fpdf.Fpdf
	// text turns UTF-8 into what the built-in fonts hold.
	text func(string) string
}

// Statement sets a member's statement. The same statement at the same moment gives the same bytes.
func Statement(s *settlementv1.Statement, house string, at time.Time) ([]byte, error) {
	pdf := fpdf.New("P", "mm", "Letter", "")
	p := &page{Fpdf: pdf}
	translate := pdf.UnicodeTranslatorFromDescriptor("")
	// The minus of print is not in the fonts' code page; its en dash looks the same.
	p.text = func(t string) string { return translate(strings.ReplaceAll(t, "−", "–")) }
	pdf.SetCreationDate(at.UTC())
	pdf.SetModificationDate(at.UTC())
	pdf.SetCatalogSort(true)
	pdf.SetTitle(fmt.Sprintf("Statement of %s, crop year %d", s.GetMember(), s.GetCropYear()), true)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(true, margin+6)
	pdf.AliasNbPages("")
	pdf.SetFooterFunc(func() { p.footer(s) })
	pdf.AddPage()
	p.head(s, house)
	p.summary(s)
	p.payouts(s)
	p.waiting(s)
	p.payments(s)
	p.closing(s)
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("set the statement: %w", err)
	}
	return out.Bytes(), nil
}

func (p *page) footer(s *settlementv1.Statement) {
	p.SetY(-margin)
	p.SetFont(font, "", smallSize)
	p.CellFormat(0, lineHeight, p.text(fmt.Sprintf("Verification code %s · page %d of {nb}", s.GetVerificationCode(), p.PageNo())), "T", 0, "C", false, 0, "")
}

func (p *page) head(s *settlementv1.Statement, house string) {
	p.SetFont(font, "", bodySize)
	p.line(house)
	p.SetFont(font, "B", titleSize)
	p.MultiCell(0, 9, p.text(fmt.Sprintf("Statement for crop year %d", s.GetCropYear())), "", "L", false)
	p.SetFont(font, "", bodySize)
	p.line(fmt.Sprintf("%s, member %s, as of %s", s.GetDisplayName(), strings.TrimPrefix(s.GetMember(), "members/"), s.GetStatementDate()))
	p.Ln(2)
	p.SetFont(font, "B", bodySize+2)
	p.line(s.GetHeadline())
	p.SetFont(font, "", bodySize)
}

func (p *page) line(text string) { p.MultiCell(0, lineHeight, p.text(text), "", "L", false) }

func (p *page) title(text string) {
	p.Ln(4)
	p.SetFont(font, "B", bodySize+1)
	p.CellFormat(0, lineHeight+1, p.text(text), "B", 1, "L", false, 0, "")
	p.SetFont(font, "", bodySize)
}

// row sets words on the left, as many lines as they need, and an amount on the right.
func (p *page) row(text string, amount *typev1.Money) {
	width, _ := p.GetPageSize()
	y := p.GetY()
	p.MultiCell(width-2*margin-amountWide, lineHeight, p.text(text), "", "L", false)
	below := p.GetY()
	if below < y { // the words began a new page
		y = below - lineHeight
	}
	p.SetXY(width-margin-amountWide, y)
	p.CellFormat(amountWide, lineHeight, p.text(inWords(amount)), "", 0, "R", false, 0, "")
	p.SetXY(margin, below)
}

func inWords(m *typev1.Money) string {
	unsigned, negative := strings.CutPrefix(m.GetAmount(), "-")
	if negative {
		return "−" + domain.Grouped(unsigned) + " " + m.GetCurrencyCode()
	}
	return domain.Grouped(unsigned) + " " + m.GetCurrencyCode()
}

func (p *page) summary(s *settlementv1.Statement) {
	t := s.GetTotal()
	p.title("Summary")
	p.row(fmt.Sprintf("Honey of %d barrels, %s paid for of %s", t.GetPricedBarrels(), weight(t.GetPayable()), weight(t.GetNet())), t.GetGrossAmount())
	p.row("Charges and retains", t.GetDeductions())
	p.row("Credited for this crop year", t.GetNetAmount())
	p.row("Of the retains, your own capital", t.GetRetained())
	if s.GetRedeemed().GetAmount() != "0.00" {
		p.row("Equity given back to you, all crop years", s.GetRedeemed())
	}
	p.row("Paid so far, all crop years", s.GetPaid())
	p.row("Balance, all crop years", s.GetBalance())
}

func weight(m *typev1.Mass) string {
	return domain.Grouped(m.GetValue()) + " " + strings.ToLower(m.GetUnit())
}

func (p *page) payouts(s *settlementv1.Statement) {
	for _, o := range s.GetPayouts() {
		p.title(fmt.Sprintf("Barrel %s, ticket %s, delivered %s", o.GetDrumTag(), o.GetTicketNumber(), o.GetDeliveryDate()))
		p.line(o.GetHeadline())
		for _, l := range o.GetLines() {
			p.row(l.GetDescription(), l.GetAmount())
			p.why(l.GetExplanation())
		}
		p.SetFont(font, "B", bodySize)
		p.row("Credited", o.GetNetAmount())
		p.SetFont(font, "", bodySize)
	}
}

func (p *page) why(e *settlementv1.Explanation) {
	p.SetFont(font, "", smallSize)
	text := e.GetCalculation()
	if e.GetAuthority() != "" {
		text += ". By " + e.GetAuthority()
	}
	if e.GetCertificateNumber() != "" {
		text += ". Certificate " + e.GetCertificateNumber()
	}
	p.MultiCell(0, lineHeight-1, p.text(text), "", "L", false)
	p.SetFont(font, "", bodySize)
}

func (p *page) waiting(s *settlementv1.Statement) {
	if len(s.GetUnpriced()) == 0 {
		return
	}
	p.title("Barrels that wait")
	for _, u := range s.GetUnpriced() {
		p.line(fmt.Sprintf("Barrel %s, delivered %s: %s", u.GetDrumTag(), u.GetDeliveryDate(), u.GetReason()))
	}
}

func (p *page) payments(s *settlementv1.Statement) {
	if len(s.GetPayments()) == 0 {
		return
	}
	p.title("Payments, all crop years")
	for _, q := range s.GetPayments() {
		p.row(fmt.Sprintf("%s to %s, %s", q.GetPaymentDate(), q.GetPayee(), q.GetDescription()), q.GetAmount())
	}
}

func (p *page) closing(s *settlementv1.Statement) {
	p.Ln(4)
	p.SetFont(font, "", smallSize)
	for _, n := range s.GetNotes() {
		p.line(n)
	}
}
