package loan

import (
	"fmt"
	"math/big"
	"time"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Due is what a loan comes to on a day.
type Due struct {
	On        domain.Date
	Principal quantity.Money
	Interest  quantity.Money
	// Unposted is the part of Interest that is not on the books yet.
	Unposted quantity.Money
	// Why says in words how the interest came about.
	Why string
}

// Payoff is all of it.
func (d Due) Payoff() quantity.Money { return d.Principal + d.Interest }

// accrual sums principal × rate × days exactly. In minor units it is sum ÷ (100 × 100 × days of the year).
type accrual struct {
	sum   *big.Int
	steps []string
}

func (a *accrual) add(principal quantity.Money, rate quantity.Percent, days int64) {
	if days == 0 || principal == 0 {
		return
	}
	term := new(big.Int).Mul(big.NewInt(int64(principal)), big.NewInt(int64(rate)))
	a.sum.Add(a.sum, term.Mul(term, big.NewInt(days)))
	a.steps = append(a.steps, fmt.Sprintf("%s × %d", quantity.Grouped(principal.String()), days))
}

// rounded is the sum in minor units, half up.
func (a *accrual) rounded(daysOfYear int64) quantity.Money {
	unit := big.NewInt(100 * 100 * daysOfYear)
	doubled := new(big.Int).Lsh(a.sum, 1)
	return quantity.Money(doubled.Add(doubled, unit).Div(doubled, unit.Lsh(unit, 1)).Int64())
}

// On is what the loan comes to on a day, which must not be before its last entry. The interest of the whole life of the loan
// is rounded once, and what was paid of it is taken off: however often it was posted, the sum is the same. Errors:
// *domain.StateError.
func (l *Loan) On(day domain.Date) (Due, error) {
	if l.Approver == "" {
		return Due{}, l.forbids("PROPOSED", "nothing is lent yet; the board has not approved this loan")
	}
	a := accrual{sum: new(big.Int)}
	d := Due{On: day}
	var paid, posted quantity.Money
	last := l.Start
	for _, e := range l.Entries {
		days, err := between(last, e.Date)
		if err != nil {
			return d, err
		}
		a.add(d.Principal, l.Rate, days)
		last, d.Principal = e.Date, d.Principal+e.Principal
		if e.Kind == Interest {
			posted += e.Interest
		} else {
			paid -= e.Interest
		}
	}
	if day < last {
		return d, l.forbids("LATER_ENTRY", fmt.Sprintf("the loan has an entry of %s; nothing is calculated or recorded before it", last))
	}
	days, err := between(last, day)
	if err != nil {
		return d, err
	}
	a.add(d.Principal, l.Rate, days)
	total := a.rounded(l.DayCount.Days())
	d.Interest, d.Unposted = total-paid, total-posted
	d.Why = l.inWords(a.steps, total, paid)
	return d, nil
}

func (l *Loan) inWords(steps []string, total, paid quantity.Money) string {
	if len(steps) == 0 {
		return "no day has passed since it was lent"
	}
	text := "("
	for i, s := range steps {
		if i > 0 {
			text += " + "
		}
		text += s
	}
	text += fmt.Sprintf(" days) × %v %% ÷ %d = %s, rounded once", l.Rate, l.DayCount.Days(), quantity.Grouped(total.String()))
	if paid != 0 {
		text += fmt.Sprintf("; less %s paid", quantity.Grouped(paid.String()))
	}
	return text
}

// between counts the days from one date to another: the first does not count, the last does.
func between(from, to domain.Date) (int64, error) {
	a, err := time.Parse(time.DateOnly, string(from))
	if err != nil {
		return 0, fmt.Errorf("read a date of a loan: %w", err)
	}
	b, err := time.Parse(time.DateOnly, string(to))
	if err != nil {
		return 0, fmt.Errorf("read a date of a loan: %w", err)
	}
	return int64(b.Sub(a) / (24 * time.Hour)), nil
}

// booked is what the entries alone come to.
func (l *Loan) booked() (principal, interest quantity.Money) {
	for _, e := range l.Entries {
		principal, interest = principal+e.Principal, interest+e.Interest
	}
	return principal, interest
}

// Post brings the books to a day: the interest not posted yet, or nothing.
func (l *Loan) Post(d Due, recorder string, at time.Time) []Entry {
	if d.Unposted == 0 {
		return nil
	}
	return []Entry{{Kind: Interest, Interest: d.Unposted, Date: d.On, Document: "interest to " + string(d.On), Recorder: recorder, Time: at}}
}

// Pay takes an amount, interest first. Errors: *domain.StateError where it is more than the payoff.
func (l *Loan) Pay(kind EntryKind, amount quantity.Money, d Due) (Entry, error) {
	if amount > d.Payoff() {
		return Entry{}, l.forbids("TOO_MUCH", fmt.Sprintf("%v is more than pays the loan off on %s, which is %v", amount, d.On, d.Payoff()))
	}
	interest := min(amount, d.Interest)
	return Entry{Kind: kind, Interest: -interest, Principal: interest - amount, Date: d.On}, nil
}

// NotBefore is a day, or that of the last entry where it is later: nothing is recorded before that.
func (l *Loan) NotBefore(day domain.Date) domain.Date {
	for _, e := range l.Entries {
		day = max(day, e.Date)
	}
	return day
}
