package ledger

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/loan"
)

// Counterparts of loans and of shared earnings, which the cooperative's other books carry on.
const (
	stores         = "assets:stores"
	interestIncome = "income:loan-interest"
	earnings       = "equity:earnings"
)

func lent(member string) string         { return "assets:loans:" + accountOf(member) }
func interestOwed(member string) string { return "assets:loan-interest:" + accountOf(member) }

func patronage(cropYear int, member string) string {
	return fmt.Sprintf("equity:patronage:%d:%s", cropYear, accountOf(member))
}

// ForCharge records what a member was charged, as income, or credited.
func ForCharge(m *domain.MemberEntry) *Entry {
	e := &Entry{Source: m.Source(), Date: m.Date, Time: m.Time, Description: m.Description + ", by " + m.Authority}
	e.add(MemberAccount(m.Member), -m.Amount)
	e.add("income:charges:"+m.Kind.Code(), m.Amount)
	return e
}

// ForLoan records what happened to a loan. m is the entry on the member's account for what was taken from it, or for an
// over-advance that was turned into a loan; nil otherwise.
func ForLoan(l *loan.Loan, x *loan.Entry, m *domain.MemberEntry) *Entry {
	e := &Entry{Source: x.Name(), Date: x.Date, Time: x.Time, Description: fmt.Sprintf("Loan %s: %s", l.Number, x.Document)}
	e.add(lent(l.Member), x.Principal)
	e.add(interestOwed(l.Member), x.Interest)
	other := Bank
	switch {
	case m != nil:
		e.Source, other = m.Source(), MemberAccount(l.Member)
	case x.Kind == loan.Interest:
		other = interestIncome
	case x.Kind == loan.Lent && l.Purpose == loan.Supplies:
		other = stores
	}
	e.add(other, -x.Principal-x.Interest)
	return e.short()
}

// ForPatronage records one member's share of a year's net earnings: the money is owed, and the notice is capital.
func ForPatronage(r *domain.Refund, p domain.RefundPart, cash *domain.MemberEntry) []*Entry {
	var entries []*Entry
	one := func(source, account string, amount quantity.Money) {
		e := &Entry{Source: source, Date: r.Date, Time: r.Time, Description: fmt.Sprintf("Patronage refund of %d by %s", r.CropYear, r.Resolution)}
		e.add(earnings, amount)
		e.add(account, -amount)
		entries = append(entries, e)
	}
	if cash != nil {
		one(cash.Source(), MemberAccount(p.Member), p.Cash)
	}
	if p.Notice > 0 {
		one(r.Name()+"/"+p.Member, patronage(r.CropYear, p.Member), p.Notice)
	}
	return entries
}

// short leaves out postings of nothing.
func (e *Entry) short() *Entry {
	kept := e.Postings[:0]
	for _, p := range e.Postings {
		if p.Amount != 0 {
			kept = append(kept, p)
		}
	}
	e.Postings = kept
	return e
}
