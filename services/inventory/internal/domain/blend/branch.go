package blend

import (
	"cmp"
	"math"
	"slices"
)

// branch divides a region in two where that raises the bound most: at a column, at a member, or at how many of the barrels
// below a threshold — of cost, of weight, of what a limit averages — are taken, which is a whole number too. Many barrels
// are nearly alike, and taking another for one of them moves the relaxation little; deciding how many of a kind moves it.
// It is not ok if the relaxation is whole everywhere.
func (s *search) branch(at *span) (best []*span, ok bool) {
	l := at.root
	x := l.solution()
	most := -1.0
	for _, pair := range s.divisions(at, l, x) {
		var halves []*span
		gain := 1.0
		for _, g := range pair {
			half := s.span(g, at)
			rise := s.rise(at, half)
			gain *= rise + 1
			if half != nil {
				halves = append(halves, half)
			}
		}
		if gain > most {
			best, most = halves, gain
		}
		if s.nodes <= 0 {
			break
		}
	}
	return best, most >= 0
}

// rise is by how much the bound of a half is above that of the whole, up to the goal.
func (s *search) rise(at, half *span) float64 {
	most := max(float64(at.bound)/1000, 1)
	if goal := s.goal(); goal != none {
		most = float64(goal - at.bound)
	}
	if half == nil {
		return most
	}
	return max(0, min(most, float64(half.bound-at.bound)))
}

// divisions are the ways to divide a region that are worth a look.
func (s *search) divisions(at *span, l *relaxation, x []float64) [][2]region {
	var out [][2]region
	p := s.p
	if g := s.halfIn(l, x); g >= 0 {
		out = append(out, [2]region{at.admitting(g, true, p), at.admitting(g, false, p)})
	}
	if len(at.rows) < min(maxRows, len(p.rows)+ownRows)-spareRows {
		for _, key := range p.keys() {
			if r, k, ok := p.threshold(l, x, key); ok {
				out = append(out, [2]region{at.along(r, 0, k), at.along(r, k+1, int64(len(p.barrels)))})
			}
		}
	}
	if i, _ := fractional(l); i >= 0 {
		j := l.cols[i]
		out = append(out, [2]region{at.deciding(j, true, p).closed(p), at.deciding(j, false, p)})
	}
	return out
}

// ownRows is the most rows a region has of its own, of which spareRows are kept for what the cap on members adds.
const ownRows, spareRows = 16, 8

// keys are what barrels are put in order by: their cost, and what the limits weigh them by.
func (p *problem) keys() [][]int64 {
	keys := [][]int64{p.cost}
	for _, r := range p.rows {
		if !r.counted {
			keys = append(keys, r.coef)
		}
	}
	return keys
}

// threshold is a row that counts the barrels up to a threshold of a key, of which the relaxation takes between k and k+1: as
// near the middle as can be, and where the keys of neighbours are furthest apart.
func (p *problem) threshold(l *relaxation, x []float64, key []int64) (r row, k int64, ok bool) {
	order := make([]int, l.n)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(key[l.cols[a]], key[l.cols[b]]), cmp.Compare(a, b))
	})
	sum, best, apart := 0.0, 0.1, int64(0)
	last := int64(0)
	for n, i := range order[:max(0, len(order)-1)] {
		sum += x[i]
		from, to := key[l.cols[i]], key[l.cols[order[n+1]]]
		if from == to {
			continue
		}
		away := math.Abs(sum - math.Round(sum))
		if away > best+0.02 || (away > best-0.02 && to-from > apart) {
			best, apart, last, k, ok = math.Max(away, best), to-from, from, int64(math.Floor(sum)), true
		}
	}
	if !ok {
		return r, 0, false
	}
	r = row{coef: make([]int64, len(p.barrels)), counted: true}
	for _, j := range l.cols {
		r.coef[j] = boolean(key[j] <= last)
	}
	return r, k, true
}

// halfIn is the member of which the relaxation takes a barrel furthest from whole while it takes more members than may be;
// −1 when they fit.
func (s *search) halfIn(l *relaxation, x []float64) int {
	if s.p.members == 0 {
		return -1
	}
	in := slices.Clone(l.in)
	most := make([]float64, s.p.groups)
	for i, v := range x {
		most[l.group[i]] = math.Max(most[l.group[i]], v)
	}
	var count int64
	best := -1
	for g, v := range most {
		if in[g] {
			count++
			continue
		}
		if v > integral {
			count++
			if best < 0 || v > most[best] {
				best = g
			}
		}
	}
	if count <= s.p.members {
		return -1
	}
	return best
}
