package blend

import (
	"cmp"
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// ChooseAll plans several orders that share the barrels, no barrel in two of them. It puts a price on every barrel that
// more than one order wants (Lagrangian multipliers of the stock rows), raises and lowers the prices for some rounds,
// fills the orders one by one at those prices, and then fills single orders and pairs again with the rest as it is. The
// prices also prove the bound: the sum of what each order costs at least at those prices, less the prices.
func ChooseAll(orders []Order, barrels []Barrel, opts Options) (*Joint, error) {
	if opts.Nodes == 0 {
		opts.Nodes = DefaultNodes
	}
	if len(orders) == 1 {
		plan, err := Choose(orders[0], barrels, opts)
		if err != nil {
			return nil, err
		}
		return &Joint{Status: plan.Status, Plans: []*Plan{plan}, Cost: plan.Cost, Bound: plan.Bound, Nodes: plan.Nodes}, nil
	}
	m := &many{opts: opts, nodes: opts.Nodes, prices: make([]int64, len(barrels)), tight: make([]int64, len(barrels)), cost: none, bound: -none}
	for i := range orders {
		p, err := newProblem(&orders[i], barrels)
		if err != nil {
			return nil, fmt.Errorf("order %s: %w", orders[i].ID, err)
		}
		m.problems = append(m.problems, p)
	}
	for j := range barrels {
		var most int64
		for _, p := range m.problems {
			most = max(most, p.cost[j])
		}
		m.dearest += most
	}
	m.short = asked(orders) > offered(barrels)
	m.run()
	m.assign()
	return m.answer(orders, barrels)
}

func asked(orders []Order) (sum quantity.Mass) {
	for _, o := range orders {
		sum += o.MinWeight
	}
	return sum
}

func offered(barrels []Barrel) (sum quantity.Mass) {
	for _, b := range barrels {
		sum += b.Weight
	}
	return sum
}

// many is the search over several orders.
type many struct {
	opts     Options
	nodes    int64
	problems []*problem
	prices   []int64 // by barrel, in the unit of costs
	tight    []int64 // those that proved the bound
	halves   [][2]*relaxation
	best     [][]int // columns of each order; nil while it is not filled
	cost     int64   // of best when every order is filled, or none
	bound    int64
	dearest  int64 // no plan can cost more
	short    bool  // the orders ask for more than all barrels weigh
	// direction of the prices in the last round.
	direction []float64
	first     []int // orders that were left over before, to be filled first
}

// Rounds of prices, and after which of them the orders are filled: once at the start, so that the gap is known, and then
// when the prices have had time to settle.
const (
	rounds    = 240
	fillEvery = 80
	// fillNodes is the work spent on one order when it is filled.
	fillNodes = 2500
	// patience is how many rounds without a better bound halve the step.
	patience = 12
	// momentum is the part of the last direction that is kept: prices of barrels that many orders want take turns else.
	momentum = 0.6
)

func (m *many) run() {
	m.best = make([][]int, len(m.problems))
	m.direction = make([]float64, len(m.prices))
	m.prepare()
	step, stale := 1.0, 0
	for round := range rounds + 1 {
		usage, bound := m.relax()
		if bound == none {
			m.bound = none
			return
		}
		if stale++; bound > m.bound {
			m.bound, stale = bound, 0
			copy(m.tight, m.prices)
		}
		if round%fillEvery == 0 {
			m.fill(round > 0)
		}
		if m.nodes <= 0 || m.done() || m.short || m.bound > m.dearest {
			return
		}
		if stale >= patience {
			step, stale = step/2, 0
		}
		m.reprice(usage, bound, step)
	}
}

func (m *many) done() bool {
	return m.cost != none && m.bound >= m.cost-tolerance(m.cost, m.opts.Gap)
}

// prepare splits each order at the number of barrels its relaxation takes: two halves, neither with a broken count, bound
// it better than one whole.
func (m *many) prepare() {
	m.halves = make([][2]*relaxation, len(m.problems))
	for o, p := range m.problems {
		all := p.whole(newSearch(p, m.opts).columns, nil)
		whole := newRelaxation(p.take(&all))
		whole.solve()
		last := len(p.counts) - 1
		k := int64(whole.counted(p)[last])
		few, more := all.within(p.counts[last], 0, k), all.within(p.counts[last], k+1, int64(len(p.barrels)))
		m.halves[o] = [2]*relaxation{newRelaxation(p.take(&few)), newRelaxation(p.take(&more))}
	}
}

// relax solves every order at the prices. It returns how much of each barrel the orders want together and a proved lower
// bound on filling all of them; none when one is proved impossible.
func (m *many) relax() (usage []float64, bound int64) {
	usage = make([]float64, len(m.prices))
	var proof price
	total := int64(0)
	for o := range m.problems {
		least, by := int64(none), -1
		for h, l := range m.halves[o] {
			l.charge(m.problems[o].cost, m.prices)
			m.nodes--
			b := l.least(&proof)
			if b < least {
				least, by = b, h
			}
		}
		if by < 0 {
			return usage, none
		}
		if least == -none || total == -none {
			total = -none
		} else {
			total += least
		}
		m.halves[o][by].addTo(usage)
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
	l.scale()
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
	length := 0.0
	for i, u := range usage {
		g := u - 1
		if g < 0 && m.prices[i] == 0 {
			g = 0
		}
		m.direction[i] = g + float64(momentum*m.direction[i])
		length += float64(m.direction[i] * m.direction[i])
	}
	if length == 0 || bound == -none {
		return
	}
	gap := m.target(bound)
	for i, d := range m.direction {
		m.prices[i] = max(0, m.prices[i]+int64(float64(step*gap*d)/length))
	}
}

// target is how far the bound may still have to rise. Without a plan that fills every order it is what all barrels could
// cost at the most: a bound above that proves that the stock does not suffice.
func (m *many) target(bound int64) float64 {
	if m.cost != none {
		return float64(m.cost-bound) + 1
	}
	return max(float64(abs(bound))/200, float64(m.dearest-bound)/20) + 1
}

// fill builds a plan at the prices of now, improves it, and keeps it if it is the best.
func (m *many) fill(improve bool) {
	plan := make([][]int, len(m.problems))
	var left []int
	for _, o := range m.sequence() {
		if plan[o] = m.order(plan, o, m.prices); plan[o] == nil {
			left = append(left, o)
		}
	}
	// Orders nobody left anything for go first the next time.
	m.first = append(left, slices.DeleteFunc(m.first, func(o int) bool { return slices.Contains(left, o) })...)
	if improve {
		m.improve(plan)
	}
	if filled(plan) > filled(m.best) || (filled(plan) == filled(m.best) && m.total(plan) < m.total(m.best)) {
		m.best = plan
	}
	if filled(m.best) == len(m.problems) {
		m.cost = m.total(m.best)
	}
}

// sequence is the orders in the order they are filled: left over ones, then by how little they left open the last time.
func (m *many) sequence() []int {
	rest := make([]int, 0, len(m.problems))
	for o := range m.problems {
		if !slices.Contains(m.first, o) {
			rest = append(rest, o)
		}
	}
	slices.SortStableFunc(rest, func(a, b int) int { return cmp.Compare(tightness(m.problems[a]), tightness(m.problems[b])) })
	return append(slices.Clone(m.first), rest...)
}

// tightness counts down the limits of an order: many limits first.
func tightness(p *problem) int {
	return -len(p.order.limits())
}

func filled(plan [][]int) int {
	n := 0
	for _, chosen := range plan {
		n += int(boolean(chosen != nil))
	}
	return n
}

func (m *many) total(plan [][]int) int64 {
	var sum int64
	for o, chosen := range plan {
		sum += m.problems[o].total(chosen)
	}
	return sum
}

// order fills one order from what the others leave, at the prices given; nil if it finds nothing.
func (m *many) order(plan [][]int, o int, prices []int64) []int {
	if m.nodes <= 0 {
		return nil
	}
	p := *m.problems[o]
	if prices != nil {
		p.cost = make([]int64, len(prices))
		for j := range prices {
			p.cost[j] = m.problems[o].cost[j] + prices[j]
		}
	}
	s := newSearch(&p, Options{Nodes: min(fillNodes, m.nodes), Gap: max(m.opts.Gap, 20)})
	used := make([]bool, len(p.barrels))
	for other, chosen := range plan {
		for _, j := range chosen {
			used[j] = used[j] || other != o
		}
	}
	s.columns = slices.DeleteFunc(s.columns, func(j int) bool { return used[j] })
	before := s.nodes
	s.run()
	m.nodes -= before - s.nodes
	return s.best
}

// improve fills single orders again at their own cost, and pairs with the first at the prices and the second at its own,
// where that makes the whole cheaper.
func (m *many) improve(plan [][]int) {
	for o := range plan {
		if again := m.order(plan, o, nil); again != nil && (plan[o] == nil || m.problems[o].total(again) < m.problems[o].total(plan[o])) {
			plan[o] = again
		}
	}
	for a := range plan {
		b := (a + 1) % len(plan)
		if a == b || plan[a] == nil || plan[b] == nil || m.nodes <= 0 {
			continue
		}
		m.again(plan, a, b)
	}
}

func (m *many) again(plan [][]int, a, b int) {
	before := m.problems[a].total(plan[a]) + m.problems[b].total(plan[b])
	trial := slices.Clone(plan)
	trial[a], trial[b] = nil, nil
	if trial[a] = m.order(trial, a, m.prices); trial[a] == nil {
		return
	}
	if trial[b] = m.order(trial, b, nil); trial[b] == nil {
		return
	}
	if m.problems[a].total(trial[a])+m.problems[b].total(trial[b]) < before {
		plan[a], plan[b] = trial[a], trial[b]
	}
}
