package blend

import (
	"math"
	"math/bits"
	"slices"
)

// wide is a sum in 128 bits.
type wide struct {
	high int64
	low  uint64
}

func (w *wide) add(v int64) {
	var carry uint64
	w.low, carry = bits.Add64(w.low, uint64(v), 0) //nolint:gosec // two's complement is what 128-bit sums are made of
	w.high += v>>63 + int64(carry)                 //nolint:gosec // a carry is 0 or 1
}

// product adds a·b.
func (w *wide) product(a, b int64) {
	hi, lo := bits.Mul64(uint64(abs(a)), uint64(abs(b))) //nolint:gosec // magnitudes
	if (a < 0) != (b < 0) {
		var borrow uint64
		lo, borrow = bits.Sub64(0, lo, 0)
		hi, _ = bits.Sub64(0, hi, borrow)
	}
	var carry uint64
	w.low, carry = bits.Add64(w.low, lo, 0)
	w.high += int64(hi) + int64(carry) //nolint:gosec // the upper half of a signed number
}

// ceilShift is w / 2^shift rounded up; ok is false when that does not fit.
func (w wide) ceilShift(shift uint) (v int64, ok bool) {
	low, carry := bits.Add64(w.low, 1<<shift-1, 0)
	high := w.high + int64(carry) //nolint:gosec // a carry is 0 or 1
	if shift > 0 {
		low = low>>shift | uint64(high)<<(64-shift) //nolint:gosec // the upper half of a signed number
		high >>= shift
	}
	return int64(low), high == int64(low)>>63 //nolint:gosec // the comparison tells whether it fitted
}

// price is a set of whole multipliers for the rows, in units of 2^-shift of the cost: any such set proves that no choice
// costs less than
//
//	Σ over rows of y·bound + Σ over open columns of min(0, cost − y·column)
//
// whatever way the multipliers were found. That is why floating point may find them.
type price struct {
	y     [maxRows]int64
	shift uint
	// cost is cost − y·column, by open column. After lower it is what moving the column away from where the bound counts it
	// adds to the bound: taking it where above zero, leaving it out, negated, where below.
	cost  []int64
	saved []int64 // by member, where they are capped: the negative ones of its open columns
	order []int64
}

// room bounds every single product and reduced cost of a proof.
const room = 1 << 60

// whole rounds the duals of the relaxation to the finest multipliers whose products stay within room; false when even
// coarse ones do not. withCost is 0 for a ray, which prices nothing but the rows.
func (l *relaxation) whole(duals *[maxRows]float64, withCost int64, p *price) bool {
	var y [maxRows]float64
	scale := l.costScale
	if withCost == 0 {
		scale = 1
	}
	most := 0.0
	for r := range l.rows {
		// A multiplier that leans on a bound the row does not have is noise.
		if y[r] = duals[r] * l.rowScale[r] / scale; (y[r] > 0 && l.low[r] == -free) || (y[r] < 0 && l.high[r] == free) {
			y[r] = 0
		}
		most = math.Max(most, math.Abs(duals[r])/scale)
	}
	// Scaled coefficients are at most one, so a reduced cost is at most the cost and the sum of the scaled multipliers.
	most = most*float64(l.rows) + 1/l.costScale*float64(withCost)
	_, e := math.Frexp(most)
	precision := 59
	if l.members > 0 {
		// What one member's barrels save is added up in 64 bits.
		precision = 46
	}
	shift := precision - e
	if withCost == 0 {
		shift = min(shift, precision)
	}
	if shift = min(shift, 62); shift < 0 {
		return false
	}
	p.shift = uint(shift)
	for r := range l.rows {
		p.y[r] = int64(math.RoundToEven(math.Ldexp(y[r], shift)))
	}
	if cap(p.cost) < l.n {
		p.cost = make([]int64, l.n)
	}
	p.cost = p.cost[:l.n]
	if cap(p.saved) < len(l.in) {
		p.saved = make([]int64, len(l.in))
	}
	p.saved = p.saved[:len(l.in)]
	clear(p.saved)
	return true
}

// prove is the least any choice left open by the fixed columns can cost, in units of 2^-shift, by the multipliers of p.
func (l *relaxation) prove(withCost int64, p *price) wide {
	var sum wide
	m := l.rows
	for r := range m {
		switch y := p.y[r]; {
		case y > 0:
			sum.product(y, l.low[r])
		case y < 0:
			sum.product(y, l.high[r])
		}
	}
	for _, i := range l.active {
		d := withCost * l.cost[i] << p.shift
		for r, a := range l.coef[i*m : i*m+m] {
			d -= p.y[r] * a
		}
		p.cost[i] = d
		switch {
		case l.fixed[i] == 1 || (l.fixed[i] == open && d < 0 && l.members == 0):
			sum.add(d)
		case l.fixed[i] == open && d < 0:
			p.saved[l.group[i]] += d
		}
	}
	if l.members > 0 {
		l.capped(p, &sum)
	}
	return sum
}

// capped adds what the barrels of the members that are in save, and of as many others as may come in, those whose barrels
// save the most: the cap on members is kept as it is and needs no multiplier.
func (l *relaxation) capped(p *price, sum *wide) {
	others := p.order[:0]
	for g, saved := range p.saved {
		if l.in[g] {
			sum.add(saved)
		} else if saved < 0 {
			others = append(others, saved)
		}
	}
	slices.Sort(others)
	p.order = others
	for _, saved := range others[:l.places(others)] {
		sum.add(saved)
	}
}

// places is how many of the others may come in.
func (l *relaxation) places(others []int64) int {
	return int(max(0, min(l.members-members(l.in), int64(len(others)))))
}

// moves makes of reduced costs what moving a column adds to the bound where members are capped. A barrel of a member whose
// barrels do not save enough to be counted brings that member in, in place of the last that is; one of a member that is
// counted may go with the whole member, who is replaced by the first that is not.
func (l *relaxation) moves(p *price) {
	places := l.places(p.order)
	var last, next int64
	if full := int64(places) == l.members-members(l.in); full && places > 0 {
		last = p.order[places-1]
	} else if full {
		last = -room
	}
	if places < len(p.order) {
		next = p.order[places]
	}
	for _, i := range l.active {
		d, g := p.cost[i], l.group[i]
		switch saved := p.saved[g]; {
		case l.in[g]:
		case saved > last:
			// Not counted: bringing it in adds what the last saves more.
			p.cost[i] = max(d, 0) + saved - last
		case d < 0:
			// Counted, or as good as the last that is.
			p.cost[i] = -min(-d, next-saved)
		}
	}
}

// lower is a proved lower bound on the whole cost of any choice left open, and its multipliers; ok is false when the
// numbers were too rough to prove anything.
func (l *relaxation) lower(p *price) (bound int64, ok bool) {
	if !l.whole(&l.duals, 1, p) {
		return 0, false
	}
	bound, ok = l.prove(1, p).ceilShift(p.shift)
	if l.members > 0 {
		l.moves(p)
	}
	return bound + l.takenCost, ok
}

// forbidden proves that no choice left open keeps the rows, by the ray of a relaxation said to be impossible.
func (l *relaxation) forbidden(p *price) bool {
	if !l.whole(&l.ray, 0, p) {
		return false
	}
	sum := l.prove(0, p)
	return sum.high > 0 || (sum.high == 0 && sum.low > 0)
}
