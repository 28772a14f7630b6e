package lots_test

import (
	"fmt"
	"testing"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
)

// years is a tank that is never emptied: charges of 18 barrels, each with a heel of the one before, packed in two lots and
// shipped to eight customers.
func years(charges int) (map[lots.Place]quantity.Mass, []lots.Transfer) {
	delivered := map[lots.Place]quantity.Mass{}
	var transfers []lots.Transfer
	pour := func(from, to lots.Place, mass quantity.Mass) {
		transfers = append(transfers, lots.Transfer{Number: int64(len(transfers) + 1), From: from, To: to, Mass: mass})
	}
	for c := range charges {
		charge := lots.At(lots.Charge, fmt.Sprint(c))
		if c > 0 {
			pour(lots.At(lots.Charge, fmt.Sprint(c-1)), charge, 500_000)
		}
		for b := range 18 {
			barrel := lots.At(lots.Barrel, fmt.Sprint(c, "-", b))
			delivered[barrel] = 640_000
			pour(barrel, charge, 640_000)
		}
		left := quantity.Mass(18*640_000 - 500_000)
		if c > 0 {
			left += 500_000
		}
		for p := range 2 {
			lot := lots.At(lots.Pack, fmt.Sprint(c, "-", p))
			pour(charge, lot, left/2)
			for s := range 4 {
				pour(lot, lots.At(lots.Shipment, fmt.Sprint(c, "-", p, "-", s)), left/8)
			}
		}
	}
	return delivered, transfers
}

// BenchmarkFollow traces the last lot of 36,000 barrels, and the first barrel.
func BenchmarkFollow(b *testing.B) {
	delivered, transfers := years(2000)
	for name, place := range map[string]lots.Place{"jar": lots.At(lots.Pack, "1999-1"), "barrel": lots.At(lots.Barrel, "0-0")} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				trace, err := lots.Follow(place, delivered, transfers)
				if err != nil || trace.Total == 0 {
					b.Fatal(trace, err)
				}
			}
		})
	}
}
