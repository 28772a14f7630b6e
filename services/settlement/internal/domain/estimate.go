package domain

import (
	"fmt"
	"math/big"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Contact is how members reach the office; what is empty is not printed.
type Contact struct{ PostalAddress, Telephone, Email string }

// Estimate is what a member's honey in an open pool is credited with and may come to, both before charges.
type Estimate struct{ Credited, Value quantity.Money }

// Estimate values what stands of one member's payouts of a crop year, in the order made, at the prices of a trial run. Each
// part of a shared barrel rounds by itself, so that it may differ from its final by a cent. There is none (false) where no honey
// of the pool stands, or where a class of it has no price above zero: half an estimate would be none. Errors: quantity.ErrRange.
func (c *ClosedPool) Estimate(payouts []*Payout, scope Scope) (e Estimate, found bool, err error) {
	gone, closed := map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	for _, p := range payouts {
		if p.Kind == Reversal {
			gone[p.Reverses] = true
		}
	}
	for _, p := range payouts {
		if p.Kind == Final && !gone[p.ID] { // another pool has taken it
			closed[p.Barrel.Barrel] = true
		}
	}
	for _, p := range payouts {
		if gone[p.ID] || closed[p.Barrel.Barrel] || p.Kind != Advance && p.Kind != Progress || !scope.Takes(p.Barrel.CropYear, p.Barrel.Variety) {
			continue
		}
		e.Credited += p.Gross
		if p.Kind == Progress {
			continue
		}
		worth, priced, err := c.worth(p)
		if err != nil || !priced {
			return Estimate{}, false, err
		}
		e.Value += worth
	}
	return e, e.Value > 0, nil
}

// worth is a payout's honey at the pool's price, less what came off for water.
func (c *ClosedPool) worth(advance *Payout) (quantity.Money, bool, error) {
	row := c.Row(advance.Barrel.Variety, advance.ColorClass, advance.Grade)
	if row < 0 || c.prices.Schedule.Rows[row].Advance <= 0 {
		return 0, false, nil
	}
	worth, err := times(c.prices.Schedule.Rows[row].Advance, advance.Payable)
	if err != nil {
		return 0, false, fmt.Errorf("estimate barrel %s: %w", advance.Barrel.DrumTag, err)
	}
	for _, l := range advance.Lines {
		if l.Kind == LineStep {
			worth += l.Amount
		}
	}
	return worth, true, nil
}

// Percent is how much of the value is credited, rounded down to a tenth: "81.2". Value must be above zero.
func (e Estimate) Percent() string {
	tenths := new(big.Int).Mul(big.NewInt(int64(e.Credited)), big.NewInt(1000))
	tenths.Div(tenths, big.NewInt(int64(e.Value))) // Div and not Quo: it rounds down below zero too
	return quantity.FormatFixed(tenths.Int64(), 1, 1)
}
