package document

import (
	"fmt"
	"strings"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// minus subtracts amounts the service wrote itself; what cannot be read is left as it is, and the reader sees it.
func minus(a, b *typev1.Money) *typev1.Money {
	x, err := quantity.ParseMoney(a.GetAmount())
	if err != nil {
		return a
	}
	y, err := quantity.ParseMoney(b.GetAmount())
	if err != nil {
		return a
	}
	return &typev1.Money{Amount: (x - y).String(), CurrencyCode: a.GetCurrencyCode()}
}

// account sets charges, loans and others with a right in the payments.
func (p *page) account(s *settlementv1.Statement) {
	if len(s.GetCharges()) > 0 || s.GetLoanMovements().GetAmount() != "0.00" {
		p.title("Charges, credits and loans, all crop years")
	}
	for _, c := range s.GetCharges() {
		p.row(fmt.Sprintf("%s, %s", c.GetEntryDate(), c.GetDescription()), c.GetAmount())
		text := "By " + c.GetAuthority()
		if c.GetCalculation() != "" {
			text = c.GetCalculation() + ". " + text
		}
		p.small(text)
	}
	if s.GetLoanMovements().GetAmount() != "0.00" {
		p.row("Taken for loans, less over-advances lent", s.GetLoanMovements())
	}
	for _, l := range s.GetLoans() {
		p.loan(l)
	}
	if len(s.GetCreditors()) > 0 {
		p.title("Others with a right in your payments")
	}
	for _, c := range s.GetCreditors() {
		text := fmt.Sprintf("%s, %s: %s %% of each payment by %s", c.GetCreditor(), c.GetRight(), c.GetPercent(), c.GetDocument())
		if c.GetCropYear() != 0 {
			text = fmt.Sprintf("%s, %s: %s %% of what a payment holds of crop year %d by %s", c.GetCreditor(), c.GetRight(), c.GetPercent(), c.GetCropYear(), c.GetDocument())
		}
		if c.GetLimit() != nil {
			text += ", up to " + inWords(c.GetLimit()) + " in all"
		}
		p.row(text+". Taken so far", c.GetTaken())
	}
}

func (p *page) loan(l *settlementv1.Loan) {
	p.title(fmt.Sprintf("Loan %s of %s by %s", l.GetNumber(), l.GetStartDate(), l.GetAuthority()))
	p.row("Lent", l.GetPrincipal())
	p.row("Principal owed", l.GetPrincipalDue())
	p.row(fmt.Sprintf("Interest owed on %s, at %s %% a year", l.GetAsOfDate(), l.GetAnnualRatePercent()), l.GetInterestDue())
	p.small(l.GetCalculation())
	p.row("Pays it off on "+l.GetAsOfDate(), l.GetPayoff())
	p.small(fmt.Sprintf("%s %% of each payment goes to it, interest first.", l.GetDeductionPercent()))
}

// pools sets the pools the member's honey is in, the open ones as far as they were estimated.
func (p *page) pools(s *settlementv1.Statement) {
	for _, e := range s.GetEstimates() {
		p.room(40)
		p.title("Pool " + e.GetTitle() + ", still open")
		p.line(fmt.Sprintf("%s %% of the estimated value of your honey is credited by advances and progress payments.", e.GetCreditedPercent()))
		p.row("Credited by now, before charges", e.GetCredited())
		p.row(fmt.Sprintf("Estimated value by trial run %s of %s", e.GetRunNumber(), e.GetRunDate()), e.GetValue())
		p.small("An estimate promises nothing: it rests on what the pool had earned and spent when it was made, and the final may be more or less.")
	}
	for _, l := range s.GetPools() {
		p.room(40)
		p.title("Pool " + l.GetTitle() + ", closed by run " + l.GetRunNumber())
		p.line(fmt.Sprintf("Your honey came to %s on average for each %s.", priceInWords(l.GetOwnAverage()), strings.ToLower(l.GetOwnAverage().GetPerUnit())))
		if l.GetAverage() != nil {
			p.line(fmt.Sprintf("All %s of the pool came to %s on average.", weight(l.GetPayable()), priceInWords(l.GetAverage())))
			if text := quality(l); text != "" {
				p.line(text)
			}
		} else {
			p.line("What the others came to is not shown: the pool has too few members.")
		}
		p.small("Fingerprint of the run " + l.GetFingerprint())
	}
}

// quality is what the honey of a pool was like on average, or "".
func quality(l *settlementv1.StatementPool) string {
	if l.GetAverageGrade() == "" {
		return ""
	}
	text := "On average it was grade " + words(l.GetAverageGrade())
	if len(l.GetAverageGrade()) > 1 {
		text = "On average it was " + words(l.GetAverageGrade())
	}
	if l.GetAverageColorClass() == "" {
		return text + ": half of the weight is that good or better."
	}
	return text + " and " + words(l.GetAverageColorClass()) + ": half of the weight is that good or better, and half that light or lighter."
}

// words turns a name of the wire into words; a single letter stays.
func words(name string) string {
	if len(name) == 1 {
		return name
	}
	return strings.ToLower(strings.ReplaceAll(name, "_", " "))
}

func priceInWords(r *typev1.Price) string { return r.GetAmount() + " " + r.GetCurrencyCode() }

// equity sets the member's capital by year and class.
func (p *page) equity(s *settlementv1.Statement) {
	if len(s.GetEquity()) == 0 {
		return
	}
	p.title("Your capital in the cooperative")
	for _, l := range s.GetEquity() {
		class := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(l.GetEquityClass().String(), "EQUITY_CLASS_"), "_", ", "))
		p.row(fmt.Sprintf("Crop year %d, %s: %s, of which given back %s", l.GetCropYear(), class, inWords(l.GetIssued()), inWords(l.GetRedeemed())), l.GetBalance())
	}
	for _, c := range s.GetEquityCorrections() {
		p.row(upper(c.GetReason())+".", c.GetAmount())
	}
	p.small("It is given back when the board resolves it, oldest year first; no date is promised.")
}
