package heat

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// Part is honey that was poured into something, with what warming had cost it. Negligible parts only add their heat.
type Part struct {
	Name string
	Mass quantity.Mass
	Account
}

// Carry adds what was poured in: its heat by mass, as HMF mixes, rounded half up; the warmest of all; and its holes, since what
// is not known of a part is not known of the whole.
func (a Account) Carry(parts []Part) (Account, error) {
	var total, weighted int64
	for _, p := range parts {
		total += int64(p.Mass)
		product, err := quantity.MulDiv(int64(p.Mass), int64(p.Used), 1)
		if err != nil {
			return a, fmt.Errorf("heat of %s: %w", p.Name, err)
		}
		weighted += product
		a.Warmest = warmer(a.Warmest, p.Warmest)
		if p.Unknown {
			a.Unknown = true
			a.UnknownSources = append(a.UnknownSources, p.Name)
		}
	}
	if total == 0 {
		return a, nil
	}
	carried, err := quantity.MulDiv(weighted, 1, total)
	if err != nil {
		return a, fmt.Errorf("heat that was carried: %w", err)
	}
	a.Carried = quantity.Percent(carried)
	a.Used += a.Carried
	slices.Sort(a.UnknownSources)
	return a.warned(), nil
}
