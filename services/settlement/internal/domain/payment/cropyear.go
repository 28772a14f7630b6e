package payment

import (
	"fmt"
	"maps"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// ByYear is money by crop year; 0 is what is of none: charges, refunds, loans.
type ByYear map[int]quantity.Money

// of tells a balance by crop year. What stands below zero in one crop year comes off the others, the oldest first and what is of no
// crop year before all: the same for charges, and for payments of which the crop year was not kept. unknown is what of the
// balance no crop year accounts for.
func (y ByYear) of(balance quantity.Money) (parts ByYear, unknown quantity.Money) {
	parts, over := ByYear{}, -balance
	for year, amount := range y {
		if amount > 0 {
			parts[year] = amount
			over += amount
		}
	}
	for _, year := range slices.Sorted(maps.Keys(parts)) {
		cut := max(min(over, parts[year]), 0)
		parts[year], over = parts[year]-cut, over-cut
	}
	return parts, max(-over, 0)
}

// Back is of which crop years a returned payment is: of the one its notice names, or of all that its batch had taken, each in
// proportion. Nothing is known (nil) of batches from before crop years were kept.
func (i Item) Back(noticeYear int, taken ByYear) (ByYear, error) {
	if noticeYear != 0 {
		return ByYear{noticeYear: i.Amount}, nil
	}
	var years []int
	var weights []int64
	for _, year := range slices.Sorted(maps.Keys(taken)) {
		if taken[year] > 0 {
			years, weights = append(years, year), append(weights, int64(taken[year]))
		}
	}
	if len(years) == 0 {
		return nil, nil
	}
	amounts, err := quantity.Share(i.Amount, weights)
	if err != nil {
		return nil, fmt.Errorf("tell a returned payment by crop year: %w", err)
	}
	back := ByYear{}
	for n, year := range years {
		back[year] = amounts[n]
	}
	return back, nil
}
