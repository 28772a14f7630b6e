package blend

import (
	"cmp"
	"slices"
)

// fill builds a plan at the prices of now, improves it, and keeps it if it is the best.
func (m *many) fill(improve bool) {
	plan := make([][]int, len(m.problems))
	var left []int
	cheap := make([][]int, len(m.problems))
	for _, o := range m.sequence() {
		cheap[o] = m.cheapest(o)
		plan[o] = m.order(plan, o, m.prices, cheap[o], m.fillNodes())
		if plan[o] == nil && len(cheap[o]) < len(m.all) {
			plan[o] = m.order(plan, o, m.prices, m.all, m.fillNodes())
		}
		if plan[o] == nil {
			left = append(left, o)
		}
	}
	// Orders nobody left anything for go first the next time.
	m.first = append(left, slices.DeleteFunc(m.first, func(o int) bool { return slices.Contains(left, o) })...)
	if improve {
		m.improve(plan, cheap)
	}
	m.keep(plan)
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

// order fills one order from those of the barrels offered that the others leave, at the prices given; nil if it finds nothing.
func (m *many) order(plan [][]int, o int, prices []int64, offered []int, nodes int64) []int {
	if m.nodes <= 0 {
		return nil
	}
	p := m.problems[o]
	if prices != nil {
		p = m.priced(o, prices)
	}
	s := newSearch(p, Options{Nodes: min(nodes, m.nodes), Gap: max(m.opts.Gap, 20)})
	used := make([]bool, len(p.barrels))
	for other, chosen := range plan {
		for _, j := range chosen {
			used[j] = used[j] || other != o
		}
	}
	s.columns = slices.DeleteFunc(slices.Clone(offered), func(j int) bool { return used[j] })
	s.seen = func(chosen []int) { m.known.add(o, chosen) }
	before := s.nodes
	s.run()
	m.nodes -= before - s.nodes
	return s.best
}

// cheapEnough is how many barrels an order is filled from at first: the orders before it leave enough of them.
const cheapEnough = 600

// cheapest are, where there are many barrels, those that raise the bound of an order least at the prices; all of them else.
func (m *many) cheapest(o int) []int {
	l := m.bounding[o].l
	if l.n <= cheapEnough {
		return m.all
	}
	var proof price
	some := l.active
	l.active = m.all
	_, ok := l.lower(&proof)
	l.active = some
	if !ok {
		return m.all
	}
	order := slices.Clone(m.all)
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(proof.cost[a], proof.cost[b]), cmp.Compare(a, b)) })
	out := make([]int, 0, cheapEnough)
	for _, i := range order[:cheapEnough] {
		out = append(out, l.cols[i])
	}
	slices.Sort(out)
	return out
}

// improve fills single orders again at their own cost, where that makes the whole cheaper.
func (m *many) improve(plan, offered [][]int) {
	for o := range plan {
		again := m.order(plan, o, nil, offered[o], m.fillNodes())
		if again != nil && (plan[o] == nil || m.problems[o].total(again) < m.problems[o].total(plan[o])) {
			plan[o] = again
		}
	}
}

// fillNodes is the work on one order when all are filled.
func (m *many) fillNodes() int64 { return max(500, fillNodes/int64(len(m.problems))) }
