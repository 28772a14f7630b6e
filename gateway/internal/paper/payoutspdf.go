package paper

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// payoutsPDF draws what a member was credited for every barrel and why: to read at home and to show the banker.
func (p *press) payoutsPDF(a account) ([]byte, error) {
	number := last(a.member.GetName())
	s := newSheet(letter, "Payouts of "+number, a.newest())
	s.numbered(p.Cooperative.Name+" · site "+p.Cooperative.Site, "Payouts of "+number+" "+a.member.GetDisplayName(), "")
	s.AddPage()
	s.line("B", 20, "What your honey has earned")
	s.line("", 13, number+"  "+a.member.GetDisplayName())
	s.Ln(2)
	s.line("B", 14, headline(a))
	s.Ln(4)
	s.facts(1, p.accountFacts(a)...)
	s.Ln(3)
	for i, payout := range a.payouts {
		s.payout(p, payout, a.sums.money(a.sums.running[i]))
	}
	s.waiting(a)
	s.fineprint()
	return s.bytes()
}

// headline says who owes whom, in words.
func headline(a account) string {
	switch {
	case len(a.payouts) == 0:
		return "Nothing has been credited to you yet."
	case a.sums.net < 0:
		return "You owe " + money(a.sums.money(-a.sums.net)) + ": more was taken back than credited."
	default:
		return money(a.sums.money(a.sums.net)) + " credited to you, before payments made."
	}
}

func (p *press) accountFacts(a account) []fact {
	facts := []fact{
		{"Agreement", orNone(a.member.GetAgreementVersion())},
		{"Honey and price steps for water", money(a.sums.money(a.sums.gross))},
		{"Charges", money(a.sums.money(a.sums.charges))},
		{"Kept as your own capital in the cooperative", money(a.sums.money(a.sums.retained))},
	}
	if a.sums.before != 0 {
		facts = append(facts, fact{"Already credited as advance, taken off finals", money(a.sums.money(a.sums.before))})
	}
	return append(facts,
		fact{"Credited to you", money(a.sums.money(a.sums.net))},
		fact{"Payouts on this paper", fmt.Sprint(len(a.payouts))},
		fact{"Newest of them", p.minute(timestamppb.New(a.newest()))},
	)
}

var kinds = map[settlementv1.PayoutKind]string{
	settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE: "Advance", settlementv1.PayoutKind_PAYOUT_KIND_REVERSAL: "Taken back",
	settlementv1.PayoutKind_PAYOUT_KIND_FINAL: "Final",
}

// payout writes one payout, every amount with its why.
func (s *sheet) payout(p *press, payout *settlementv1.Payout, running *typev1.Money) {
	s.together(38)
	s.rule()
	s.SetFont(sans, "B", 11)
	s.cell(s.width()*0.75, 5.5, kinds[payout.GetKind()]+" · barrel "+payout.GetDrumTag(), "L")
	s.cell(0, 5.5, money(payout.GetNetAmount()), "R")
	s.Ln(5.5)
	s.paragraph("", 8.5, fmt.Sprintf("Ticket %s, delivered %s, crop year %d. Net %s, paid for %s. Priced %s.", payout.GetTicketNumber(), day(payout.GetDeliveryDate()),
		payout.GetCropYear(), mass(payout.GetNet()), mass(payout.GetPayable()), p.minute(payout.GetPriceTime())))
	s.paragraph("", 10, payout.GetHeadline())
	if payout.GetReason() != "" {
		s.paragraph("", 9, "Why: "+strings.TrimSuffix(payout.GetReason(), ".")+".")
	}
	s.Ln(1)
	for _, l := range payout.GetLines() {
		s.amount(l)
	}
	s.SetFont(sans, "", 8.5)
	s.cell(0, 5, "Credited to you so far: "+money(running), "R")
	s.Ln(7)
}

func (s *sheet) amount(l *settlementv1.PayoutLine) {
	s.together(20)
	what := l.GetDescription()
	if l.GetQuantity() != nil && l.GetRate() != nil {
		what += "  ·  " + mass(l.GetQuantity()) + " at " + price(l.GetRate())
	}
	s.SetFont(sans, "B", 9)
	s.cell(s.width()*0.8, 4.6, what, "L")
	s.cell(0, 4.6, money(l.GetAmount()), "R")
	s.Ln(4.6)
	for _, text := range reasons(l.GetExplanation()) {
		s.SetX(s.GetX() + 4)
		s.SetFont(sans, "", 8.5)
		s.MultiCell(s.width()-34, 3.9, printable(text), "", "L", false)
	}
	s.Ln(1.2)
}

// reasons are the sentences that open an amount.
func reasons(e *settlementv1.Explanation) []string {
	var out []string
	for _, text := range []string{e.GetRule(), e.GetCalculation()} {
		if text != "" {
			out = append(out, text)
		}
	}
	if len(e.GetReadings()) > 0 {
		out = append(out, "Measured: "+strings.Join(e.GetReadings(), "; ")+".")
	}
	var papers []string
	if e.GetAuthority() != "" {
		papers = append(papers, "Allowed by: "+e.GetAuthority()+".")
	}
	if e.GetCertificateNumber() != "" {
		papers = append(papers, "Certificate "+e.GetCertificateNumber()+".")
	}
	if len(papers) > 0 {
		out = append(out, strings.Join(papers, " "))
	}
	return out
}

func (s *sheet) waiting(a account) {
	if len(a.waiting) == 0 {
		return
	}
	s.together(24)
	s.rule()
	s.line("B", 11, "Delivered and not priced yet")
	s.Ln(1)
	for _, u := range a.waiting {
		s.paragraph("", 9, "Barrel "+u.GetDrumTag()+", delivered "+day(u.GetDeliveryDate())+": "+u.GetReason()+".")
	}
	s.Ln(4)
}

func (s *sheet) fineprint() {
	s.together(34)
	s.rule()
	for _, text := range []string{
		"If something looks wrong, tell the office the barrel and the ticket. You can ask for a re-test of a certificate until the date on it; a corrected amount is a new line that names the old one.",
		"This is not tax or legal advice. How an amount is classified is for the cooperative's accountant; for your own taxes ask yours.",
		"Honey is not for infants under 12 months of age.",
	} {
		s.paragraph("", 8.5, text)
		s.Ln(1)
	}
}
