package tax

import (
	"fmt"
	"slices"
	"strings"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// Caution goes with every figure.
const Caution = "These are figures for the cooperative's accountant, by the calendar year they were paid or noticed in. They are not tax advice, and no form was filed: " +
	"how an amount is classified is the accountant's decision; ask your own about your case."

// FactKind is what an amount of the year was.
type FactKind int

// The kinds. The numbers are those of the store's query.
const (
	Credited FactKind = iota + 1
	Retained
	PatronageMoney
	PatronageNotice
	Withheld
	Redeemed
)

// Fact is one member's sum of one kind in the year. Class is that of the capital; zero where there is none.
type Fact struct {
	Member   string
	Kind     FactKind
	CropYear int
	Class    domain.EquityClass
	Amount   quantity.Money
}

// Payee is whom a member's money went to. Kind is zero for the member, else that of the notice.
type Payee struct {
	Member string
	Name   string
	Kind   int
	Amount quantity.Money
}

// Policy is what the cooperative's accountant decided.
type Policy struct {
	// PoolPayments puts what was paid for pooled honey without reference to earnings into box 3.
	PoolPayments bool
}

// Boxes of the form.
const Boxes = 9

// Titles of the boxes (as in the form's instructions to the recipient; boxes 6 to 9 are passed on by the accountant).
var Titles = [Boxes + 1]string{
	"", "Patronage dividends", "Nonpatronage distributions", "Per-unit retain allocations", "Federal income tax withheld",
	"Redemption of nonqualified notices and retain allocations", "Section 199A(g) deduction", "Qualified payments", "Section 199A(a) qualified items", "Section 199A(a) SSTB items",
}

// kept are the boxes this system has amounts for.
var kept = []int{1, 3, 4, 5}

// Record is one member's year.
type Record struct {
	Member string
	Year   int
	// Box holds amounts by their number; 0 is unused.
	Box [Boxes + 1]quantity.Money
	// Pool is what was paid for pooled honey without reference to earnings.
	Pool     quantity.Money
	MustFile bool
	Reason   string
	Findings []string
	Payees   []Payee
	parts    [Boxes + 1][]string
}

// Gather sorts the facts of a year by member, in order. threshold is the figure in force at the end of the year.
func Gather(year int, facts []Fact, payees []Payee, policy Policy, terms domain.Terms) ([]*Record, error) {
	byMember := map[string]*Record{}
	var records []*Record
	of := func(member string) *Record {
		if byMember[member] == nil {
			byMember[member] = &Record{Member: member, Year: year}
			records = append(records, byMember[member])
		}
		return byMember[member]
	}
	for _, f := range facts {
		of(f.Member).take(f, terms)
	}
	for _, p := range payees {
		r := of(p.Member)
		r.Payees = append(r.Payees, p)
	}
	threshold, err := On(Threshold, domain.Date(fmt.Sprintf("%d-12-31", year)))
	if err != nil {
		return nil, err
	}
	for _, r := range records {
		if policy.PoolPayments && r.Pool != 0 {
			r.add(3, r.Pool, "paid for pooled honey, by the accountant's decision", terms)
		}
		if err := r.judge(threshold, terms); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(records, func(a, b *Record) int { return strings.Compare(a.Member, b.Member) })
	return records, nil
}

func (r *Record) add(box int, amount quantity.Money, what string, terms domain.Terms) {
	r.Box[box] += amount
	r.parts[box] = append(r.parts[box], terms.Money(amount)+" "+what)
}

func (r *Record) take(f Fact, terms domain.Terms) {
	if f.Amount == 0 {
		return
	}
	switch f.Kind {
	case Credited:
		r.Pool += f.Amount
	case PatronageMoney:
		r.add(1, f.Amount, fmt.Sprintf("of the refund for crop year %d in money", f.CropYear), terms)
	case PatronageNotice:
		if f.Class == domain.PatronageQualified {
			r.add(1, f.Amount, fmt.Sprintf("of the refund for crop year %d by qualified notice", f.CropYear), terms)
		}
	case Withheld:
		r.add(4, f.Amount, "withheld and paid to the tax authority", terms)
	case Retained, Redeemed:
		r.capital(f, terms)
	}
}

// capital sorts retains when they are made and capital when it is given back: what was income then is none now.
func (r *Record) capital(f Fact, terms domain.Terms) {
	made := f.Kind == Retained
	switch f.Class {
	case domain.RetainUndesignated:
		verb := "retained"
		if !made {
			verb = "given back"
		}
		r.Findings = append(r.Findings, fmt.Sprintf("%s was %s for crop year %d, and the board has not said whether its certificates are qualified; it is in no box",
			terms.Money(f.Amount), verb, f.CropYear))
	case domain.RetainQualified:
		if made {
			r.add(3, f.Amount, fmt.Sprintf("retained for crop year %d by qualified certificate", f.CropYear), terms)
		}
	case domain.RetainNonqualified, domain.PatronageNonqualified:
		if !made {
			r.add(5, f.Amount, fmt.Sprintf("of crop year %d given back, nonqualified", f.CropYear), terms)
		}
	case domain.PatronageQualified: // was income when it was noticed
	}
}

// judge says whether a form must be filed: at or above the threshold, or where tax was withheld.
func (r *Record) judge(threshold Figure, terms domain.Terms) error {
	limit, err := quantity.ParseMoney(threshold.Value)
	if err != nil {
		return fmt.Errorf("read the threshold: %w", err)
	}
	sum := r.Box[1] + r.Box[2] + r.Box[3] + r.Box[5]
	source := fmt.Sprintf("%s a person a year, %s", terms.Money(limit), threshold.Source)
	switch {
	case r.Box[4] > 0:
		r.MustFile, r.Reason = true, "tax was withheld: a form is filed whatever the amount"
	case sum >= limit:
		r.MustFile, r.Reason = true, fmt.Sprintf("boxes 1, 2, 3 and 5 come to %s, at or above %s", terms.Money(sum), source)
	default:
		r.Reason = fmt.Sprintf("boxes 1, 2, 3 and 5 come to %s, below %s", terms.Money(sum), source)
	}
	return nil
}

// Explain says how a box comes about.
func (r *Record) Explain(box int) string {
	switch {
	case len(r.parts[box]) > 0:
		return strings.Join(r.parts[box], "; ")
	case slices.Contains(kept, box):
		return "nothing in the year"
	}
	return "not kept here; the accountant has it"
}
