package blend

import (
	"math"
	"slices"
)

// Where a variable of the relaxation is.
const (
	atLow int8 = iota
	atHigh
	basic
)

// open marks a column no branch has decided.
const open int8 = -1

// Tolerances of the search; nothing is decided by them.
const (
	feasible = 1e-9
	tinyStep = 1e-10
	tinyTurn = 1e-9
	integral = 1e-6
	maxRows  = 40
	maxSteps = 1000
	maxAge   = 30
)

// relaxation solves a part with 0 ≤ x ≤ 1 in place of x ∈ {0,1}, by the dual simplex method for bounded variables with
// bound flipping. Variables 0 … n−1 are the columns and n … n+rows−1 the values of the rows, A·x − s = 0. Every column
// is bounded on both sides, so putting each at the bound its reduced cost asks for makes any basis a start, and a column
// fixed in a branch only adds steps. Inverse and reduced costs follow from step to step and are computed anew after some of
// them, before much has drifted.
type relaxation struct {
	*part
	head    []int  // the variable in each place of the basis
	where   []int8 // by variable
	fixed   []int8 // by column: 0, 1 or open
	active  []int  // the columns that are looked at; every other is left out
	in      []bool // by member: known to be in, in this branch
	parted  int    // the column that is to be used in part in this branch, or −1
	inverse []float64
	age     int       // steps since the inverse was computed; −1 while it is not that of the basis
	reduced []float64 // reduced costs, by variable
	turn    []float64 // the pivot row, by variable
	duals   [maxRows]float64
	values  [maxRows]float64 // of the basis
	ray     [maxRows]float64 // after impossible
	queue   []candidate
	steps   int
}

// outcome of a relaxation.
type outcome int

const (
	solved     outcome = iota
	impossible         // ray seems to forbid every solution
	unclear            // the steps ran out or the numbers were too rough
)

func newRelaxation(s *part) *relaxation {
	l := &relaxation{
		part: s, parted: -1, in: slices.Clone(s.taking), head: make([]int, s.rows), where: make([]int8, s.n+s.rows), fixed: make([]int8, s.n),
		inverse: make([]float64, s.rows*s.rows), reduced: make([]float64, s.n+s.rows), turn: make([]float64, s.n+s.rows),
	}
	l.active = make([]int, s.n)
	for i := range l.fixed {
		l.fixed[i], l.active[i] = open, i
	}
	l.reset()
	return l
}

// reset starts from the basis of rows, keeping what is fixed.
func (l *relaxation) reset() {
	for i := range l.n {
		if l.where[i] == basic {
			l.where[i] = atLow
		}
		if l.fixed[i] != open {
			l.where[i] = l.fixed[i]
		}
	}
	for r := range l.rows {
		l.head[r], l.where[l.n+r] = l.n+r, basic
	}
	l.age = -1
}

// copyFrom takes over the state of another relaxation of the same part.
func (l *relaxation) copyFrom(o *relaxation) {
	copy(l.head, o.head)
	copy(l.where, o.where)
	copy(l.fixed, o.fixed)
	l.active = l.active[:0]
	for _, i := range o.active {
		if o.fixed[i] != 0 || o.where[i] == basic {
			l.active = append(l.active, i)
		}
	}
	copy(l.in, o.in)
	copy(l.inverse, o.inverse)
	l.age = o.age
	l.parted = o.parted
}

// fix decides a column for this branch and all below it. A basic one is driven out by the next solve.
func (l *relaxation) fix(i int, value int8) {
	l.fixed[i] = value
	if l.where[i] != basic {
		l.where[i] = value
	}
}

func (l *relaxation) bounds(v int) (low, high float64) {
	switch {
	case v >= l.n:
		return l.flow[v-l.n], l.fhigh[v-l.n]
	case l.fixed[v] != open:
		return float64(l.fixed[v]), float64(l.fixed[v])
	default:
		return 0, 1
	}
}

// solve minimises; afterwards duals and values hold the solution, or ray the reason there is none.
func (l *relaxation) solve() outcome {
	l.renew()
	for range maxSteps {
		l.steps++
		l.evaluate()
		place, down := l.leaving()
		if place < 0 {
			return solved
		}
		entering, found := l.entering(place, down)
		if !found {
			return impossible
		}
		l.exchange(place, down, entering)
	}
	return unclear
}

// renew computes the inverse anew, unless it is young, and the reduced costs.
func (l *relaxation) renew() {
	if l.age < 0 || l.age > maxAge {
		if !l.invert() {
			l.reset()
			l.invert()
		}
		l.age = 0
	}
	l.price()
}

// invert computes the inverse of the basis by Gauss–Jordan elimination with partial pivoting; false if it is singular.
func (l *relaxation) invert() bool {
	m := l.rows
	var work [maxRows * maxRows]float64
	inv := l.inverse
	for k, v := range l.head {
		for r := range m {
			inv[r*m+k] = 0
			if v < l.n {
				work[r*m+k] = l.fcoef[v*m+r]
			}
		}
		if v >= l.n {
			work[(v-l.n)*m+k] = -1
		}
		inv[k*m+k] = 1
	}
	for k := range m {
		if !pivot(work[:], inv, k, m) {
			return false
		}
	}
	return true
}

// pivot makes column k of work a unit column and does the same to inv.
func pivot(work, inv []float64, k, m int) bool {
	p := k
	for r := k + 1; r < m; r++ {
		if math.Abs(work[r*m+k]) > math.Abs(work[p*m+k]) {
			p = r
		}
	}
	if math.Abs(work[p*m+k]) < 1e-11 {
		return false
	}
	for c := range m {
		work[p*m+c], work[k*m+c] = work[k*m+c], work[p*m+c]
		inv[p*m+c], inv[k*m+c] = inv[k*m+c], inv[p*m+c]
	}
	f := 1 / work[k*m+k]
	for c := range m {
		work[k*m+c] *= f
		inv[k*m+c] *= f
	}
	for r := range m {
		g := work[r*m+k]
		if r == k || g == 0 {
			continue
		}
		for c := range m {
			// The conversions keep a fused multiply-add of other processors from rounding differently.
			work[r*m+c] -= float64(g * work[k*m+c])
			inv[r*m+c] -= float64(g * inv[k*m+c])
		}
	}
	return true
}

// price computes multipliers and reduced costs, and puts each open nonbasic column at the bound its reduced cost asks for.
func (l *relaxation) price() {
	m := l.rows
	y := l.duals[:m]
	clear(y)
	for k, v := range l.head {
		if v < l.n {
			for r := range y {
				y[r] += float64(l.fcost[v] * l.inverse[k*m+r])
			}
		}
	}
	for _, i := range l.active {
		if l.where[i] == basic {
			l.reduced[i] = 0
			continue
		}
		d := l.fcost[i]
		for r, a := range l.fcoef[i*m : i*m+m] {
			d -= float64(y[r] * a)
		}
		l.reduced[i] = d
		if l.fixed[i] == open {
			l.where[i] = side(l.where[i], d)
		}
	}
	for r, d := range y {
		l.reduced[l.n+r] = d
		if v := l.n + r; l.where[v] != basic && l.flow[r] > math.Inf(-1) && l.fhigh[r] < math.Inf(1) {
			l.where[v] = side(l.where[v], d)
		}
	}
}

// side is the bound a reduced cost asks for; one of nothing leaves the variable where it is.
func side(now int8, d float64) int8 {
	switch {
	case d < -tinyStep:
		return atHigh
	case d > tinyStep:
		return atLow
	default:
		return now
	}
}

// evaluate computes the values of the basis, given where the other variables are.
func (l *relaxation) evaluate() {
	m := l.rows
	var rhs [maxRows]float64
	for _, i := range l.active {
		if l.where[i] == atHigh {
			for r, a := range l.fcoef[i*m : i*m+m] {
				rhs[r] -= a
			}
		}
	}
	for r := range m {
		switch l.where[l.n+r] {
		case atLow:
			rhs[r] += l.flow[r]
		case atHigh:
			rhs[r] += l.fhigh[r]
		}
	}
	for k := range m {
		l.values[k] = 0
		for r := range m {
			l.values[k] += float64(l.inverse[k*m+r] * rhs[r])
		}
	}
}

// leaving chooses the basic variable furthest outside its bounds, measured along the edge of the dual it would follow.
// down is +1 below the low bound and −1 above the high one; place is −1 when all are inside.
func (l *relaxation) leaving() (place int, down float64) {
	m := l.rows
	place, most := -1, 0.0
	for k, v := range l.head {
		low, high := l.bounds(v)
		out, side := low-l.values[k], 1.0
		if over := l.values[k] - high; over > out {
			out, side = over, -1
		}
		if out <= feasible {
			continue
		}
		length := 0.0
		for _, b := range l.inverse[k*m : k*m+m] {
			length += float64(b * b)
		}
		if score := out * out / length; score > most {
			place, most, down = k, score, side
		}
	}
	return place, down
}

// entering walks along the dual ray of the leaving variable past every column whose flip to its other bound still
// leaves something to gain, and returns the one that stops it. Without one the ray goes on for ever: nothing fits.
func (l *relaxation) entering(place int, down float64) (int, bool) {
	m := l.rows
	row := l.inverse[place*m : place*m+m]
	l.queue = l.queue[:0]
	for _, i := range l.active {
		if l.where[i] == basic {
			l.turn[i] = 0
			continue
		}
		t := 0.0
		for r, a := range l.fcoef[i*m : i*m+m] {
			t += float64(row[r] * a)
		}
		l.turn[i] = t
		if l.fixed[i] == open {
			l.offer(i, down*t, 1)
		}
	}
	for r := range m {
		if v := l.n + r; l.where[v] != basic {
			l.turn[v] = -row[r]
			l.offer(v, -down*row[r], l.fhigh[r]-l.flow[r])
		}
	}
	low, high := l.bounds(l.head[place])
	gain := low - l.values[place]
	if down < 0 {
		gain = l.values[place] - high
	}
	for r := range m {
		l.ray[r] = -down * row[r]
	}
	return l.stop(gain)
}

// exchange puts entering into the basis and the variable at place at the bound it was outside of.
func (l *relaxation) exchange(place int, down float64, entering int) {
	v := l.head[place]
	low := atLow
	if down < 0 {
		low = atHigh
	}
	if v < l.n && l.fixed[v] != open {
		low = l.fixed[v]
	}
	along := l.follow(place, entering)
	l.head[place], l.where[entering], l.where[v] = entering, basic, low
	if l.age++; !along || l.age > maxAge {
		l.age = maxAge + 1
		l.renew()
	}
}

// follow brings inverse, multipliers and reduced costs to the basis in which entering takes a place; false where the numbers
// are too rough for that.
func (l *relaxation) follow(place, entering int) bool {
	m := l.rows
	row := l.inverse[place*m : place*m+m]
	pivot := l.turn[entering]
	if math.Abs(pivot) < 1e-7 {
		return false
	}
	step := l.reduced[entering] / pivot
	for r := range m {
		l.duals[r] += float64(step * row[r])
	}
	for _, i := range l.active {
		if l.where[i] == basic {
			continue
		}
		d := l.reduced[i] - float64(step*l.turn[i])
		l.reduced[i] = d
		if l.fixed[i] == open {
			l.where[i] = side(l.where[i], d)
		}
	}
	for r := range m {
		v := l.n + r
		if l.where[v] == basic {
			continue
		}
		d := l.reduced[v] - float64(step*l.turn[v])
		l.reduced[v] = d
		if l.flow[r] > math.Inf(-1) && l.fhigh[r] < math.Inf(1) {
			l.where[v] = side(l.where[v], d)
		}
	}
	l.reduced[entering], l.reduced[l.head[place]] = 0, -step
	l.replace(place, entering)
	return true
}

// replace brings the inverse to the basis in which entering takes a place.
func (l *relaxation) replace(place, entering int) {
	m := l.rows
	row := l.inverse[place*m : place*m+m]
	for r := range row {
		row[r] /= l.turn[entering]
	}
	for k := range m {
		if k == place {
			continue
		}
		other := l.inverse[k*m : k*m+m]
		w := 0.0
		if entering >= l.n {
			w = -other[entering-l.n]
		} else {
			for r, a := range l.fcoef[entering*m : entering*m+m] {
				w += float64(other[r] * a)
			}
		}
		if w == 0 {
			continue
		}
		for r := range other {
			other[r] -= float64(w * row[r])
		}
	}
}
