package blend

import "slices"

// conflict finds limits of an order that cannot be kept together, although without any one of them the others can: each
// limit in turn is left out, and stays out if the rest is still proved impossible. Where the budget ends without a
// proof the limit stays in, so the set may be larger than it need be, but it is never wrong to call it impossible.
func conflict(o Order, barrels []Barrel, opts Options) ([]Limit, error) {
	var in []Limit
	for _, l := range o.limits() {
		without := o.without(l)
		s, err := first(&without, barrels, opts)
		if err != nil {
			return nil, err
		}
		if s.hopeless() {
			o = without
			continue
		}
		in = append(in, l)
	}
	slices.Reverse(in)
	return in, nil
}

// first looks for any plan at all.
func first(o *Order, barrels []Barrel, opts Options) (*search, error) {
	p, err := newProblem(o, barrels)
	if err != nil {
		return nil, err
	}
	s := newSearch(p, opts)
	s.first = true
	s.run()
	return s, nil
}

// hopeless reports that it is proved that there is no plan.
func (s *search) hopeless() bool { return s.best == nil && s.bound == none }
