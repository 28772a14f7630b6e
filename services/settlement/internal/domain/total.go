package domain

import (
	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// MemberTotal is what one member, or all of them, have been credited. Weights are of the barrels priced now.
type MemberTotal struct {
	Member      string
	DisplayName string
	Barrels     int64
	Priced      int64
	Net         quantity.Mass
	Payable     quantity.Mass
	Gross       quantity.Money
	// Deductions is negative; Retained of it, as a positive number, is the members' own capital.
	Deductions quantity.Money
	Retained   quantity.Money
	// Credited is the sum of the payouts' own net amounts, reached without the lines.
	Credited quantity.Money
}

// Amount is gross + deductions. Errors: *TotalError where the lines do not come to what the payouts say.
func (t MemberTotal) Amount() (quantity.Money, error) {
	amount := t.Gross + t.Deductions
	who := t.Member
	if who == "" {
		who = "all members"
	}
	return amount, mustAgree("the total of "+who, amount, t.Credited)
}

// Add takes a payout into the total.
func (t *MemberTotal) Add(p *Payout) {
	for _, l := range p.Lines {
		switch l.Kind {
		case LineRetain:
			t.Retained -= l.Amount
			t.Deductions += l.Amount
		case LineCharge:
			t.Deductions += l.Amount
		default:
			t.Gross += l.Amount
		}
	}
	t.Credited += p.Net
	// A final, a progress payment or a fee is about a barrel its advance has counted. A reversal mirrors what it reverses.
	if p.Run != (uuid.UUID{}) || p.Progress != (uuid.UUID{}) || p.Kind == Fee {
		return
	}
	one := int64(1)
	if p.Kind == Reversal {
		one = -1
	}
	t.Priced += one
	t.Net += p.Barrel.Net * quantity.Mass(one)
	t.Payable += p.Payable * quantity.Mass(one)
}
