package blend

import (
	"cmp"
	"math"
	"slices"
)

// leaf is some of the plans of an order, and their relaxation.
type leaf struct {
	region
	l *relaxation
}

func (p *problem) leaf(g region) *leaf { return &leaf{g, newRelaxation(p.take(&g))} }

// leaves is the most leaves of an order that is divided again.
const leaves = 4

// prepare starts each order with all its plans in one leaf, and splits that.
func (m *many) prepare() {
	m.leaves, m.bounding = make([][]*leaf, len(m.problems)), make([]*leaf, len(m.problems))
	for o, p := range m.problems {
		all := p.leaf(p.whole(newSearch(p, m.opts).columns, nil))
		all.l.solve()
		m.leaves[o] = []*leaf{all}
		m.part(o, 0)
	}
}

// part divides a leaf of an order at a number of barrels that is broken in its relaxation: no plan has 5.9 of them, so the
// parts together bound the order better than the whole.
func (m *many) part(o, at int) {
	p, whole := m.problems[o], m.leaves[o][at]
	if len(m.leaves[o]) >= leaves || !slices.ContainsFunc(whole.l.counted(p), isBroken) {
		return
	}
	parts := whole.split(p, whole.l)
	if parts == nil {
		return
	}
	m.leaves[o] = slices.Delete(m.leaves[o], at, at+1)
	for _, g := range parts {
		m.leaves[o] = append(m.leaves[o], p.leaf(g))
	}
}

// isBroken reports whether a count is so far from whole that dividing there is worth it.
func isBroken(n float64) bool { return math.Abs(n-math.Round(n)) > 0.01 }

// relax solves every order at its costs and the prices. It returns how much of each barrel the orders want together and a proved lower
// bound on filling all of them; none when one is proved impossible. With divide it parts the leaf that bounds each order.
func (m *many) relax(cost func(order int) []int64, divide bool) (usage []float64, bound int64) {
	usage = make([]float64, len(m.prices))
	var proof price
	total := int64(0)
	for o := range m.problems {
		least, by := int64(none), -1
		some := m.leaves[o][:0]
		for _, leaf := range m.leaves[o] {
			leaf.l.charge(cost(o), m.prices)
			m.nodes -= 1 + int64(len(m.all))/heavy
			b := leaf.l.sift(&proof, m.all)
			if b == none {
				// At whatever prices.
				continue
			}
			if b < least {
				least, by = b, len(some)
			}
			some = append(some, leaf)
		}
		m.leaves[o] = some
		if by < 0 {
			return usage, none
		}
		if least == -none || total == -none {
			total = -none
		} else {
			total += least
		}
		m.bounding[o] = m.leaves[o][by]
		m.bounding[o].l.addTo(usage)
		if divide {
			m.part(o, by)
		}
	}
	if total != -none {
		for _, u := range m.prices {
			total -= u
		}
	}
	return usage, total
}

// charge sets the costs of the columns to the order's own plus the prices.
func (l *relaxation) charge(cost, prices []int64) {
	for i, j := range l.cols {
		l.cost[i] = cost[j] + prices[j]
	}
	l.scaleCost()
}

// promising is how many columns beside those taken are looked at while prices change.
const promising = 250

// sift is least over the columns that looked promising at earlier prices, and over more until the multipliers leave out none
// that is. The bound is that of all columns.
func (l *relaxation) sift(proof *price, all []int) int64 {
	if len(l.active) < l.n {
		for range 8 {
			if l.solve() != solved {
				break
			}
			some := l.active
			l.active = all
			bound, ok := l.lower(proof)
			l.active = some
			if !ok {
				break
			}
			if !l.enlist(proof) {
				return bound
			}
		}
	}
	l.active = all
	bound := l.least(proof)
	l.shortlist()
	return bound
}

// enlist adds the columns that the proof finds worth taking, and reports whether there were any.
func (l *relaxation) enlist(proof *price) bool {
	in := make([]bool, l.n)
	for _, i := range l.active {
		in[i] = true
	}
	before := len(l.active)
	for i, d := range proof.cost {
		if d < 0 && !in[i] {
			l.active = append(l.active, i)
		}
	}
	if len(l.active) == before {
		return false
	}
	slices.Sort(l.active)
	return true
}

// shortlist leaves the columns taken and those nearest to it.
func (l *relaxation) shortlist() {
	var some, rest []int
	for i := range l.n {
		if l.where[i] == atLow {
			rest = append(rest, i)
		} else {
			some = append(some, i)
		}
	}
	slices.SortFunc(rest, func(a, b int) int { return cmp.Or(cmp.Compare(l.reduced[a], l.reduced[b]), cmp.Compare(a, b)) })
	l.active = append(some, rest[:min(promising, len(rest))]...)
	slices.Sort(l.active)
}

// settle takes the prices that proved the bound, and notes the reduced costs at them.
func (m *many) settle() {
	copy(m.prices, m.tight)
	m.dearer = make([][]int64, len(m.problems))
	var proof price
	for o, p := range m.problems {
		least := int64(none)
		m.dearer[o] = make([]int64, len(m.prices))
		for _, leaf := range m.leaves[o] {
			l := leaf.l
			l.charge(p.cost, m.prices)
			l.active = m.all
			if b := l.least(&proof); b < least && b != -none {
				least = b
				for i, j := range l.cols {
					m.dearer[o][j] = proof.cost[i] >> proof.shift
				}
			}
		}
	}
}

// least solves and returns the proved bound: none when nothing fits, −none when nothing could be proved.
func (l *relaxation) least(proof *price) int64 {
	switch l.solve() {
	case impossible:
		if l.forbidden(proof) {
			return none
		}
	case solved, unclear:
		if b, ok := l.lower(proof); ok {
			return b
		}
	}
	return -none
}

// addTo adds the solution to usage.
func (l *relaxation) addTo(usage []float64) {
	for i, j := range l.cols {
		if l.where[i] == atHigh {
			usage[j]++
		}
	}
	for k, v := range l.head {
		if v < l.n {
			usage[l.cols[v]] += l.values[k]
		}
	}
}

// reprice raises the price of what is wanted more than once and lowers that of what is left over, by a step that would
// close the gap if the bound went on as steeply as it begins.
func (m *many) reprice(usage []float64, bound int64, step float64) {
	length := m.turn(usage)
	if length == 0 || bound == -none {
		return
	}
	move(m.prices, m.direction, step*m.target(bound), length)
}

// move changes prices, none below zero, in a direction whose square has a length.
func move(prices []int64, direction []float64, far, length float64) {
	for i, d := range direction {
		prices[i] = max(0, prices[i]+int64(float64(far*d)/length))
	}
}

// turn brings the direction of the prices nearer to what is wanted too often or too little, and returns the square of its
// length.
func (m *many) turn(usage []float64) float64 { return turn(m.prices, m.direction, usage) }

func turn(prices []int64, direction, usage []float64) (length float64) {
	for i, u := range usage {
		g := u - 1
		if g < 0 && prices[i] == 0 {
			g = 0
		}
		direction[i] = g + float64(momentum*direction[i])
		length += float64(direction[i] * direction[i])
	}
	return length
}

// target is how far the bound may still have to rise. Without a plan that fills every order it is what all barrels could
// cost at the most: a bound above that proves that the stock does not suffice.
func (m *many) target(bound int64) float64 {
	if m.cost != none {
		return float64(m.cost-bound) + 1
	}
	return max(float64(abs(bound))/200, float64(m.dearest-bound)/20) + 1
}
