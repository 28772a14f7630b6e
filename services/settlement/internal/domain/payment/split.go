package payment

import (
	"bytes"
	"cmp"
	"fmt"
	"maps"
	"slices"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// LoanDue is what a member owes on a loan on the day of payment, and the part of each payment that goes to it.
type LoanDue struct {
	Name      string
	Number    string
	Percent   quantity.Percent
	Interest  quantity.Money
	Principal quantity.Money
	Authority string
}

// Part is one payee's part of a balance.
type Part struct {
	// Payee is "members/…" or "encumbrances/…", whose account the money goes to.
	Payee       string
	To          string
	Amount      quantity.Money
	Explanation string
}

// Deduction is what a balance gives to a loan: it is owed to the cooperative itself and leaves no bank.
type Deduction struct {
	Member      string         `json:"member"`
	Loan        string         `json:"loan"`
	Interest    quantity.Money `json:"interest"`
	Principal   quantity.Money `json:"principal"`
	Explanation string         `json:"explanation"`
}

// Claim is a balance with all who have a right in it.
type Claim struct {
	Member  string
	Holder  string
	Balance quantity.Money
	// Years is what stands of each crop year; it is needed where a notice names one.
	Years   ByYear
	Notices []*Encumbrance
	// Loans are the oldest first.
	Loans []LoanDue
}

// Shares is how a balance is divided. Blocked is why nothing may be paid at all; the rest is empty then.
type Shares struct {
	Parts      []Part
	Deductions []Deduction
	Blocked    string
}

// Split divides a balance on a date in the order of rights: withholding and levies, then the cooperative's loans, interest
// first, then liens, assignments and joint payees by kind, by the day the notice came and by identity. Shares are of the whole
// balance, or where a notice names a crop year of what the balance holds of that; the rest is the member's, or that of its heirs.
// A notice of a crop year the balance holds nothing of does not count. What all crop years bear is taken from the others first, so
// that it leaves a creditor of one crop year as much of it as there is.
func (c Claim) Split(on domain.Date, terms domain.Terms) (Shares, error) {
	d := dividing{Claim: c, left: c.Balance, terms: terms}
	var unknown quantity.Money
	d.parts, unknown = c.Years.of(c.Balance)
	d.yearLeft = maps.Clone(d.parts)
	due := slices.Clone(c.Notices)
	slices.SortFunc(due, func(a, b *Encumbrance) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Received, b.Received), bytes.Compare(a.ID[:], b.ID[:]))
	})
	var statutory, private, heirs []*Encumbrance
	for _, e := range due {
		switch {
		case !e.counts(on):
		case e.CropYear != 0 && unknown > 0:
			return Shares{Blocked: fmt.Sprintf("it is not kept of which crop year %s is, and a notice of %s names one; register the notice for all crop years", terms.Money(unknown), e.Received)}, nil
		case e.CropYear != 0 && d.parts[e.CropYear] == 0:
		case e.Unresolved:
			return Shares{Blocked: fmt.Sprintf("a notice of %s is not resolved; until it is, the cooperative could have to pay twice", e.Received)}, nil
		case e.Kind <= Levy:
			statutory = append(statutory, e)
		case e.Kind == Heir:
			heirs = append(heirs, e)
		default:
			private = append(private, e)
		}
	}
	for _, step := range []func() error{
		func() error { return d.notices(statutory) }, d.loans, func() error { return d.notices(private) }, func() error { return d.rest(heirs) },
	} {
		if err := step(); err != nil || d.out.Blocked != "" {
			return Shares{Blocked: d.out.Blocked}, err
		}
	}
	return d.out, nil
}

type dividing struct {
	Claim

	left quantity.Money
	// parts is the balance by crop year, yearLeft what notices of one have left of it.
	parts, yearLeft ByYear

	terms domain.Terms
	out   Shares
}

// share is a part of the whole balance, as far as there is something left.
func (d *dividing) share(p quantity.Percent) (quantity.Money, error) { return d.shareOf(d.Balance, p) }

func (d *dividing) shareOf(whole quantity.Money, p quantity.Percent) (quantity.Money, error) {
	share, err := p.Of(int64(whole))
	if err != nil {
		return 0, fmt.Errorf("share of %s: %w", d.Member, err)
	}
	return min(quantity.Money(share), d.left), nil
}

func (d *dividing) notices(due []*Encumbrance) error {
	for _, e := range due {
		whole, words := d.Balance, d.terms.Money(d.Balance)
		if e.CropYear != 0 {
			whole = d.parts[e.CropYear]
			words = fmt.Sprintf("%s of crop year %d", d.terms.Money(whole), e.CropYear)
		}
		cut, err := d.shareOf(whole, e.Percent)
		if err != nil {
			return err
		}
		if e.CropYear != 0 {
			cut = min(cut, d.yearLeft[e.CropYear])
		}
		if e.Limit > 0 {
			cut = min(cut, max(e.Limit-e.Taken, 0))
		}
		if cut <= 0 {
			continue
		}
		to := e.Creditor
		if e.Kind == JointPayee {
			to = d.Holder + " and " + e.Creditor + ", jointly"
		}
		d.left -= cut
		if e.CropYear != 0 {
			d.yearLeft[e.CropYear] -= cut
		}
		d.out.Parts = append(d.out.Parts, Part{
			Payee: e.Name(), To: to, Amount: cut, Explanation: fmt.Sprintf("%v %% of %s by %s", e.Percent, words, e.Document),
		})
	}
	return nil
}

func (d *dividing) loans() error {
	for _, l := range d.Loans {
		cut, err := d.share(l.Percent)
		if err != nil {
			return err
		}
		cut = min(cut, l.Interest+l.Principal)
		if cut <= 0 {
			continue
		}
		interest := min(cut, l.Interest)
		d.left -= cut
		d.out.Deductions = append(d.out.Deductions, Deduction{
			Member: d.Member, Loan: l.Name, Interest: interest, Principal: cut - interest,
			Explanation: fmt.Sprintf("%v %% of %s for loan %s by %s: %s interest, then %s principal", l.Percent, d.terms.Money(d.Balance), l.Number, l.Authority,
				d.terms.Money(interest), d.terms.Money(cut-interest)),
		})
	}
	return nil
}

// rest goes to the member, or by largest remainder to its heirs, whose shares must be all of it.
func (d *dividing) rest(heirs []*Encumbrance) error {
	if len(heirs) == 0 {
		if d.left > 0 {
			d.out.Parts = append(d.out.Parts, Part{Payee: d.Member, To: d.Holder, Amount: d.left, Explanation: d.balance()})
		}
		return nil
	}
	var sum quantity.Percent
	weights := make([]int64, len(heirs))
	for i, h := range heirs {
		sum, weights[i] = sum+h.Percent, int64(h.Percent)
	}
	if sum != 100_00 {
		d.out.Blocked = fmt.Sprintf("the shares of the heirs come to %v %% and not to 100; nothing is paid of the estate until they do", sum)
		return nil
	}
	amounts, err := quantity.Share(d.left, weights)
	if err != nil {
		return fmt.Errorf("share the estate of %s: %w", d.Member, err)
	}
	why := d.balance()
	for i, h := range heirs {
		if amounts[i] > 0 {
			d.out.Parts = append(d.out.Parts, Part{
				Payee: h.Name(), To: h.Creditor, Amount: amounts[i], Explanation: fmt.Sprintf("%v %% of the estate by %s: %s", h.Percent, h.Document, why),
			})
		}
	}
	return nil
}

func (d *dividing) balance() string {
	why := "balance of " + d.terms.Money(d.Balance)
	var lent quantity.Money
	for _, x := range d.out.Deductions {
		lent += x.Interest + x.Principal
	}
	if lent > 0 {
		why += ", less " + d.terms.Money(lent) + " for loans"
	}
	if others := d.Balance - d.left - lent; others > 0 {
		why += ", less " + d.terms.Money(others) + " to others"
	}
	return why
}
