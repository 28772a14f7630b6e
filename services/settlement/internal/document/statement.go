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
	"barrelhead.example/services/kit/quantity"
)

// Statement sets a member's statement. The same statement at the same moment gives the same bytes.
func Statement(s *settlementv1.Statement, house string, at time.Time) ([]byte, error) {
	pdf := fpdf.New("P", "mm", "Letter", "")
	p := newPage(pdf, fmt.Sprintf("Statement of %s, crop year %d", s.GetMember(), s.GetCropYear()), at)
	pdf.SetFooterFunc(func() { p.footer(s) })
	pdf.AddPage()
	p.head(s, house)
	p.summary(s)
	p.deliveries(s)
	p.payouts(s)
	p.waiting(s)
	p.pools(s)
	p.account(s)
	p.containers(s)
	p.payments(s)
	p.equity(s)
	p.closing(s)
	var out bytes.Buffer
	if err := pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("set the statement: %w", err)
	}
	return out.Bytes(), nil
}

func (p *page) footer(s *settlementv1.Statement) {
	text := fmt.Sprintf("Verification code %s · page %d of {nb}", s.GetVerificationCode(), p.PageNo())
	if s.GetNumber() != "" {
		text = "Statement " + s.GetNumber() + " · " + text
	}
	p.foot(text)
}

func (p *page) head(s *settlementv1.Statement, house string) {
	p.SetFont(font, "", bodySize)
	p.line(house)
	p.SetFont(font, "B", titleSize)
	p.MultiCell(0, 9, p.text(fmt.Sprintf("Statement for crop year %d", s.GetCropYear())), "", "L", false)
	p.SetFont(font, "", bodySize)
	p.line(fmt.Sprintf("%s, member %s, as of %s", s.GetDisplayName(), strings.TrimPrefix(s.GetMember(), "members/"), s.GetStatementDate()))
	if s.GetNumber() != "" {
		p.line("Statement " + s.GetNumber())
	}
	if s.GetSupersedes() != "" {
		p.line(fmt.Sprintf("It replaces %s, whose balance was %s", s.GetSupersedes(), inWords(s.GetPreviousBalance())))
	}
	p.Ln(2)
	p.SetFont(font, "B", bodySize+2)
	p.line(s.GetHeadline())
	p.SetFont(font, "", bodySize)
	if s.GetPaymentWords() != "" {
		p.line(s.GetPaymentWords())
	}
}

func (p *page) summary(s *settlementv1.Statement) {
	t := s.GetTotal()
	p.title("Summary")
	p.row(fmt.Sprintf("Honey of %s, %s paid for of %s", quantity.Count(int64(t.GetPricedBarrels()), "barrel"), weight(t.GetPayable()), weight(t.GetNet())), t.GetGrossAmount())
	p.row("Charges and retains", t.GetDeductions())
	p.row("Credited for this crop year", t.GetNetAmount())
	p.row("Of it advances", s.GetAdvances())
	if s.GetProgress().GetAmount() != "0.00" {
		p.row("Of it progress payments", s.GetProgress())
	}
	if s.GetFinals().GetAmount() != "0.00" {
		p.row("Of it finals", s.GetFinals())
	}
	if s.GetFees().GetAmount() != "0.00" {
		p.row("Of it fees of appeals", s.GetFees())
	}
	p.row("Of the retains, your own capital", t.GetRetained())
	if s.GetRedeemed().GetAmount() != "0.00" {
		p.row("Equity given back to you, all crop years", s.GetRedeemed())
	}
	if s.GetPatronage().GetAmount() != "0.00" {
		p.row("Patronage refunds in money, all crop years", s.GetPatronage())
	}
	if s.GetOther().GetAmount() != s.GetPatronage().GetAmount() {
		p.row("Charges and credits beside the barrels, and loans, all crop years", minus(s.GetOther(), s.GetPatronage()))
	}
	p.row("Paid so far, all crop years", s.GetPaid())
	p.row("Of it in "+s.GetStatementDate()[:4], s.GetPaidThisYear())
	p.row("Balance, all crop years", s.GetBalance())
}

func weight(m *typev1.Mass) string {
	return quantity.Grouped(m.GetValue()) + " " + strings.ToLower(m.GetUnit())
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
	text := e.GetCalculation()
	if e.GetAuthority() != "" {
		text += ". By " + e.GetAuthority()
	}
	if e.GetCertificateNumber() != "" {
		text += ". Certificate " + e.GetCertificateNumber()
	}
	p.small(text)
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
	p.contact(s.GetContact())
	p.SetFont(font, "", smallSize)
	for _, n := range s.GetNotes() {
		p.line(n)
	}
}
