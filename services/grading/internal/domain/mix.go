package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// Part is some honey that goes into a mixture.
type Part struct {
	// Mass in any unit, the same for all parts.
	Mass int64
	// Value of what is carried by mass, e.g. water.
	Value Value
}

// Mix is the mass-weighted mean of the parts, rounded once half up to four digits. It hides what one part holds: nine
// barrels at 17.5 % water and one at 21.0 % come to 17.85 %. Errors: *FieldError for parts without mass.
func Mix(parts []Part) (Value, error) {
	var mass, sum int64
	for _, p := range parts {
		if p.Mass <= 0 {
			return 0, &FieldError{"mass", "every part of a mixture needs a mass"}
		}
		mass += p.Mass
		sum += p.Mass * int64(p.Value)
	}
	v, err := quantity.MulDiv(sum, 1, mass)
	if err != nil {
		return 0, fmt.Errorf("mix %d parts: %w", len(parts), err)
	}
	return Value(v), nil
}
