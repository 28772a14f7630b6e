package blend

import "slices"

// choose decides a joint plan from all choices of every order: first whether there is one, then which is the cheapest.
func (m *many) choose(of [][]choice) {
	c := m.chooser(of, m.nodes)
	c.any = true
	c.greedy(c.all())
	if !m.short {
		c.run()
	}
	m.nodes = c.left / glances
	if c.best == nil {
		m.short = m.short || c.left > 0
		m.best = c.barrels(c.some)
		return
	}
	m.adopt(c)
	m.bound = m.cheapestOf(of)
}

// cheapestOf looks for the cheapest plan made of some choices of each order, and returns what none of those can cost less than.
func (m *many) cheapestOf(of [][]choice) int64 {
	c := m.chooser(of, m.nodes)
	c.run()
	m.nodes = c.left / glances
	m.adopt(c)
	return min(c.least, m.cost)
}

// adopt takes the plan of a chooser if it is the best.
func (m *many) adopt(c *chooser) {
	if c.cost >= m.cost {
		return
	}
	m.cost, m.best = c.cost, c.barrels(c.best)
}

// barrels are those of one choice of each order; nil for an order without one.
func (c *chooser) barrels(chosen []int) [][]int {
	out := make([][]int, len(c.of))
	for o, i := range chosen {
		if i >= 0 {
			out[o] = c.of[o][i].barrels
		}
	}
	return out
}

// certify raises the proved bound by that of whole barrels: what each order costs at least by itself, at the prices that proved
// the bound so far, with numbers of barrels and not fractions of them. Where few barrels and little work tell, more is worth
// while: see refine and exhaust.
func (m *many) certify() {
	if m.bound == -none || m.done() {
		return
	}
	before := m.nodes
	m.quick = m.certified(m.tight, certifyShare) && m.cost != none && len(m.prices) <= combined && before-m.nodes < m.nodes/quickShare
}

const (
	// certifyShare and refineShare are the parts of the work left, one in so many, that may go into one bound of whole barrels.
	certifyShare, refineShare = 8, 2
	// quickShare is the part that makes such a bound quickly told, and combined the most barrels whose choices are combined.
	quickShare, combined = 8, 100
	// looseShare is the part of the gap that what each order costs by itself need not be known to, for all orders together.
	looseShare = 20
)

// certified raises the bound by what each order costs at least by itself at some prices, with a part of the work left; false if
// nothing was proved of one of them.
func (m *many) certified(prices []int64, part int) bool {
	share := m.nodes / int64(part*len(m.problems))
	alone := make([]int64, len(m.problems))
	total := int64(0)
	for o := range m.problems {
		p := m.priced(o, prices)
		s := newSearch(p, Options{Nodes: max(share, 1), Gap: m.opts.Gap / 2})
		if m.cost != none {
			loose := (m.cost - m.bound) / int64(looseShare*len(m.problems))
			s.slack = max(s.slack, loose*1_000_000/max(1, abs(p.total(m.best[o]))))
		}
		s.seen = func(chosen []int) { m.known.add(o, chosen) }
		before := s.nodes
		s.run()
		m.nodes -= before - s.nodes
		switch alone[o] = min(s.bound, s.cost); alone[o] {
		case none:
			m.bound = none
			return false
		case -none:
			return false
		}
		total += alone[o]
	}
	for _, price := range prices {
		total -= price
	}
	if total > m.bound || m.alone == nil {
		m.bound, m.alone = max(m.bound, total), alone
		copy(m.tight, prices)
	}
	return true
}

const (
	// masterRounds is how long prices are sought that suit the choices known.
	masterRounds = 200
	// near is the part of the gap, one in so many, that the bound may stay below what the choices known can prove.
	near = 10
	// refineLeaves is the part of the work, one in so many, that refining leaves.
	refineLeaves = 3
)

// refine seeks prices that prove more (column generation): halfway from those that prove the most so far to those that suit the
// choices known, which become more every time.
func (m *many) refine() {
	if !m.quick || m.done() {
		return
	}
	m.know()
	m.cheapestOf(m.known.of)
	for end := m.nodes / refineLeaves; m.nodes > end && !m.done(); {
		c := m.chooser(m.known.of, m.nodes)
		reach, _ := c.raise(c.all(), masterRounds)
		m.nodes = c.left / glances
		m.adopt(c)
		prices := slices.Clone(m.tight)
		for b, p := range c.prices {
			prices[b] = (prices[b] + p) / 2
		}
		if !m.certified(prices, refineShare) || reach-m.bound < (m.cost-m.bound)/near {
			return
		}
	}
}

// know notes the choices of the plan at hand.
func (m *many) know() {
	for o, chosen := range m.best {
		m.known.add(o, chosen)
	}
}

// exhaust lists every choice of every order that may be part of a plan that is worth having: those that at the prices cost less
// above the order's least than the plan at hand costs above what the prices prove. If all can be listed, the cheapest that go
// together are the best plan there is.
func (m *many) exhaust() {
	if !m.quick || m.done() {
		return
	}
	gap := m.cost
	for _, price := range m.tight {
		gap += price
	}
	for _, least := range m.alone {
		gap -= least
	}
	// What would save less than the gap asked for is not looked for.
	limit := m.cost - tolerance(m.cost, m.opts.Gap)
	gap -= m.cost - limit
	more := m.opts.Nodes * worth * 2 / 3
	m.granted, m.nodes = m.granted+more, m.nodes+more
	for o := range m.problems {
		if !m.within(o, gap) {
			return
		}
	}
	m.know()
	m.bound = max(m.bound, min(limit, m.cheapestOf(m.known.of)))
}

// within lists the choices of an order that cost less than gap above its least; false if the work does not reach.
func (m *many) within(o int, gap int64) bool {
	p, limit := m.problems[o], m.alone[o]+gap
	at := m.priced(o, m.tight)
	var proof price
	for _, leaf := range m.leaves[o] {
		l := leaf.l
		l.charge(p.cost, m.tight)
		l.active = m.all
		switch l.least(&proof) {
		case none:
			continue
		case -none:
			return false
		}
		tries := m.nodes * tried
		s, ok := l.sweep(p, limit, tries, func(chosen []int) {
			if at.total(chosen) < limit {
				m.known.add(o, chosen)
			}
		})
		if !ok {
			return false
		}
		done := s.run()
		m.nodes -= (tries - s.left) / tried
		if !done {
			return false
		}
	}
	return true
}

// priced is an order with the prices added to its costs.
func (m *many) priced(o int, prices []int64) *problem {
	p := *m.problems[o]
	p.cost = make([]int64, len(prices))
	for j, price := range prices {
		p.cost[j] = m.problems[o].cost[j] + price
	}
	return &p
}
