package domain

import "barrelhead.example/services/kit/quantity"

const (
	whole      = quantity.Percent(100_00)
	tenth      = quantity.Mass(100)   // a tenth of a unit, in thousandths
	tenthPoint = quantity.Percent(10) // a tenth of a percent, in hundredths
)

// SolidsBasis is net × (100 − water) ÷ (100 − base): the weight the honey would have if it held just the base water, the
// grain water-shrink factor of Virginia Tech, Constant Moisture Grain Marketing, 2001. It is rounded once, half up, to a
// tenth of a unit, and exceeds net where the honey is drier than the base.
func SolidsBasis(net quantity.Mass, water, base quantity.Percent) (quantity.Mass, error) {
	dry, per := int64(whole-water), int64(whole-base)*int64(tenth)
	if net >= 0 && net < smallMass && dry >= 0 && per > 0 {
		// The product fits 64 bits, as it does for any barrel; the long way below is for the rest.
		return quantity.Mass((int64(net)*dry+per/2)/per) * tenth, nil
	}
	tenths, err := quantity.MulDiv(int64(net), dry, per)
	return quantity.Mass(tenths) * tenth, err
}

// Payable is the weight paid for: the solids basis above the base, and never more than net. A drier honey earns no more
// than its weight.
func (r MoistureRule) Payable(net quantity.Mass, water quantity.Percent) (quantity.Mass, error) {
	if water <= r.Base {
		return net, nil
	}
	payable, err := SolidsBasis(net, water, r.Base)
	return min(payable, net), err
}

// Tenths counts the full or part 0.1 % of water above the base.
func (r MoistureRule) Tenths(water quantity.Percent) int64 {
	if water <= r.Base {
		return 0
	}
	return int64((water - r.Base + tenthPoint - 1) / tenthPoint)
}
