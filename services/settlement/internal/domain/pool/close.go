package pool

import (
	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

const (
	// declaredStep is the fifth digit after the point, in which prices are declared.
	declaredStep = 10
	// One minor unit in thousandths of a unit of mass times millionths of the currency.
	minorUnit = 10_000_000
)

// ClassResult is a class with its declared price.
type ClassResult struct {
	Class
	Price   quantity.Price `json:"price"`
	Barrels int            `json:"barrels"`
	Payable quantity.Mass  `json:"payable"`
}

// Line is what one owner's part of one barrel is worth.
type Line struct {
	Barrel uuid.UUID      `json:"barrel"`
	Member string         `json:"member"`
	Value  quantity.Money `json:"value"`
	// Credited is what was credited before.
	Credited quantity.Money `json:"credited"`
	// Odd is true where the part of a shared barrel got the odd cent.
	Odd bool `json:"odd,omitempty"`
}

// MemberResult is what one member comes to. Due and Receivable are never both above zero: what a member was advanced too
// much is owed and carried, and never a negative payment.
type MemberResult struct {
	Member     string         `json:"member"`
	Barrels    int            `json:"barrels"`
	Payable    quantity.Mass  `json:"payable"`
	Value      quantity.Money `json:"value"`
	Credited   quantity.Money `json:"credited"`
	Due        quantity.Money `json:"due"`
	Receivable quantity.Money `json:"receivable"`
}

// Summary is a closing without its lines and members.
type Summary struct {
	Base          quantity.Price `json:"base"`
	Classes       []ClassResult  `json:"classes"`
	Payable       quantity.Mass  `json:"payable"`
	Distributable quantity.Money `json:"distributable"`
	ToMembers     quantity.Money `json:"to_members"`
	// Residual is what declared prices of five digits and cents leave over: never negative, and kept in the open.
	Residual   quantity.Money `json:"residual"`
	Credited   quantity.Money `json:"credited"`
	Due        quantity.Money `json:"due"`
	Receivable quantity.Money `json:"receivable"`
	// Barrels counts those in it, LeftOut those of the pool without an advance.
	Barrels int `json:"barrels"`
	LeftOut int `json:"left_out"`
	Members int `json:"members"`
}

// Result is a closing held in memory.
type Result struct {
	Summary
	Lines   []Line
	Members []MemberResult
}

// Close solves a pool whose barrels are all at hand: it is a Reckoning from beginning to end. Errors: *domain.StateError
// where there is no honey or a class would be priced below zero; *domain.TotalError where a total disagrees, which no
// input should bring about.
func Close(in Input) (*Result, error) {
	in = in.Canonical()
	reckoning, err := Reckon(in.Head(), Heaps(in.Barrels))
	if err != nil {
		return nil, err
	}
	r := &Result{Lines: make([]Line, 0, len(in.Barrels))}
	for i := range in.Barrels {
		lines, err := reckoning.Value(&in.Barrels[i])
		if err != nil {
			return nil, err
		}
		r.Lines = append(r.Lines, lines...)
	}
	summary, members, err := reckoning.Finish()
	if err != nil {
		return nil, err
	}
	r.Summary, r.Members = *summary, members
	return r, r.Check()
}
