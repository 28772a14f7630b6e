package blend

import (
	"cmp"
	"slices"
)

// sweep tries every set of some barrels that can fill an order, one barrel after the other, without a relaxation for each: of few
// barrels that lists all choices there are in a moment.
type sweep struct {
	p       *problem
	columns []int
	coef    [][]int64 // of each column, by row
	after   []int64   // the weight of the columns from one on
	// taking and leaving are what taking a column adds to the bound at least, and leaving it out, and limit what no set that is looked
	// for adds: see relaxation.sweep.
	taking, leaving []int64
	limit           int64
	sums            []int64 // by row
	chosen          []int
	left            int64 // tries
	found           func(chosen []int)
}

func newSweep(p *problem, columns []int, tries int64, found func(chosen []int)) *sweep {
	s := &sweep{
		p: p, columns: columns, limit: none, sums: make([]int64, len(p.rows)), left: tries, found: found,
		after: make([]int64, len(columns)+1), taking: make([]int64, len(columns)), leaving: make([]int64, len(columns)),
	}
	for _, j := range columns {
		column := make([]int64, len(p.rows))
		for r := range p.rows {
			column[r] = p.rows[r].coef[j]
		}
		s.coef = append(s.coef, column)
	}
	for i := len(columns) - 1; i >= 0; i-- {
		s.after[i] = s.after[i+1] + int64(p.barrels[columns[i]].Weight)
	}
	return s
}

// run tries all sets; false if the tries did not suffice.
func (s *sweep) run() bool {
	s.add(0, 0, 0)
	return s.left >= 0
}

// add tries what is chosen, and it with every set of the columns from one on.
func (s *sweep) add(from int, weight, spent int64) {
	least, most := int64(s.p.order.MinWeight), int64(s.p.order.MaxWeight)
	if weight >= least && s.keeps() {
		s.found(s.chosen)
	}
	for i := from; i < len(s.columns) && weight+s.after[i] >= least && spent < s.limit; i++ {
		j := s.columns[i]
		if w := weight + int64(s.p.barrels[j].Weight); w <= most && spent+s.taking[i] < s.limit {
			if s.left--; s.left < 0 {
				return
			}
			for r, v := range s.coef[i] {
				s.sums[r] += v
			}
			s.chosen = append(s.chosen, j)
			s.add(i+1, w, spent+s.taking[i])
			s.chosen = s.chosen[:len(s.chosen)-1]
			for r, v := range s.coef[i] {
				s.sums[r] -= v
			}
		}
		spent += s.leaving[i]
	}
}

func (s *sweep) keeps() bool {
	for r, sum := range s.sums {
		if sum < s.p.rows[r].low || sum > s.p.rows[r].high {
			return false
		}
	}
	return s.p.members == 0 || int64(len(s.p.membersOf(s.chosen))) <= s.p.members
}

// sweep is one for the choices of a relaxation that cost less than a limit. Whatever the multipliers, a choice costs the
// bound and the reduced costs of what is not as the bound counts it; so much has been spent when a column is decided. Columns that
// cost most to decide against the bound come first. ok is false when nothing was proved.
func (l *relaxation) sweep(p *problem, limit, tries int64, found func(chosen []int)) (s *sweep, ok bool) {
	// The cap on members is kept by the sweep: a bound that counts it would not add up column by column.
	capped := l.members
	l.members = 0
	defer func() { l.members = capped }()
	var proof price
	base, ok := l.lower(&proof)
	if !ok {
		return nil, false
	}
	decisive := make([]int, len(l.cols))
	for i := range decisive {
		decisive[i] = i
	}
	slices.SortStableFunc(decisive, func(a, b int) int { return cmp.Compare(abs(proof.cost[b]), abs(proof.cost[a])) })
	columns := make([]int, len(decisive))
	for n, i := range decisive {
		columns[n] = l.cols[i]
	}
	s = newSweep(p, columns, tries, found)
	for n, i := range decisive {
		if d := proof.cost[i]; d < 0 {
			s.leaving[n] = -d >> proof.shift
		} else {
			s.taking[n] = d >> proof.shift
		}
	}
	s.limit = limit - base
	return s, true
}

// sets is how many sets of k of n barrels there are, or more than most.
func sets(n, k, most int) int {
	out := 1
	for i := range k {
		if out = out * (n - i) / (i + 1); out > most {
			return out
		}
	}
	return out
}
