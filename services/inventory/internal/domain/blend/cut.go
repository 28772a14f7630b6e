package blend

import "slices"

// memberRounds is how often a relaxation is solved again with one row more for the cap on members.
const memberRounds = 6

// cut adds to a span the row that its relaxation breaks most of those that follow from the cap on members: one barrel of
// each member that is not known to be in, at most as many as may still come in. It reports whether there was one.
func (s *search) cut(at *span) bool {
	if s.p.members == 0 || len(at.rows) >= min(maxRows, len(s.p.rows)+ownRows) {
		return false
	}
	l := at.root
	x := l.solution()
	chosen := make([]int, s.p.groups)
	for g := range chosen {
		chosen[g] = -1
	}
	better := func(a, b int) bool {
		if x[a] != x[b] {
			return x[a] > x[b]
		}
		return l.reduced[a] < l.reduced[b]
	}
	for i, g := range l.group {
		if !l.in[g] && (chosen[g] < 0 || better(i, chosen[g])) {
			chosen[g] = i
		}
	}
	places := s.p.members - members(l.in)
	sum := 0.0
	r := row{coef: make([]int64, len(s.p.barrels)), counted: true, cut: true, low: -free, high: places}
	for _, i := range chosen {
		if i >= 0 {
			sum += x[i]
			r.coef[l.cols[i]] = 1
		}
	}
	if sum <= float64(places)+0.01 {
		return false
	}
	at.rows = append(slices.Clone(at.rows), r)
	return true
}

// lean leaves out the cuts that do not bear on the relaxation.
func (at *span) lean() {
	l := at.root
	bears := make([]bool, len(at.rows))
	for r, i := range l.origin {
		bears[i] = l.where[l.n+r] != basic
	}
	var rows []row
	for i, r := range at.rows {
		if !r.cut || bears[i] {
			rows = append(rows, r)
		}
	}
	at.rows = rows
}
