package domain

import "barrelhead.example/services/kit/quantity"

// MemberTotal is what one member, or all of them, have been credited. Weights are of the barrels priced now.
type MemberTotal struct {
	Member      string
	DisplayName string
	Barrels     int64
	Priced      int64
	Net         quantity.Mass
	Payable     quantity.Mass
	Gross       quantity.Money
	// Deductions is negative.
	Deductions quantity.Money
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
