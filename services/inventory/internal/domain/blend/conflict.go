package blend

import "slices"

// relaxable lists the limits in the order in which they are tried without: what a buyer gives way on first comes first, so
// that the conflict named is about what matters most.
var relaxable = []Limit{MaxMembers, MaxAged, MinShare, MinColor, MaxColor, MinMoisture, MaxMoisture, MaxWeight, MinWeight}

// conflict finds limits of an order that cannot be kept together, although without any one of them the others can: each
// limit in turn is left out, and stays out if the rest is still proved impossible. Where the budget ends without a
// proof the limit stays in, so the set may be larger than it need be, but it is never wrong to call it impossible.
func conflict(o Order, barrels []Barrel, opts Options) ([]Limit, error) {
	var in []Limit
	for _, l := range relaxable {
		without := o
		if !without.drop(l) {
			continue
		}
		p, err := newProblem(&without, barrels)
		if err != nil {
			return nil, err
		}
		s := newSearch(p, opts)
		s.first = true
		s.run()
		if s.best == nil && s.bound == none {
			o = without
			continue
		}
		in = append(in, l)
	}
	slices.Reverse(in)
	return in, nil
}

// drop takes a limit away, and reports whether it was there.
func (o *Order) drop(l Limit) bool {
	had := o.has(l)
	switch l {
	case MinWeight:
		o.MinWeight = 0
	case MaxWeight:
		o.MaxWeight = unlimited
	case MinMoisture:
		o.MinMoisture = nil
	case MaxMoisture:
		o.MaxMoisture = nil
	case MinColor:
		o.MinDensity = nil
	case MaxColor:
		o.MaxDensity = nil
	case MinShare:
		o.MinShare = 0
	case MaxAged:
		o.MaxAged = nil
	case MaxMembers:
		o.MaxMembers = 0
	}
	return had
}

// has reports whether a limit applies.
func (o *Order) has(l Limit) bool {
	switch l {
	case MinWeight:
		return o.MinWeight > 0
	case MaxWeight:
		return o.MaxWeight != unlimited
	case MinMoisture:
		return o.MinMoisture != nil
	case MaxMoisture:
		return o.MaxMoisture != nil
	case MinColor:
		return o.MinDensity != nil
	case MaxColor:
		return o.MaxDensity != nil
	case MinShare:
		return o.MinShare > 0
	case MaxAged:
		return o.MaxAged != nil
	case MaxMembers:
		return o.MaxMembers > 0
	default:
		return false
	}
}
