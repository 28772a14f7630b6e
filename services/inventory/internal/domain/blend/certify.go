package blend

// certify raises the proved bound by that of whole barrels: what each order costs at least by itself, at the prices that proved
// the bound so far, with numbers of barrels and not fractions of them.
func (m *many) certify() {
	if m.bound == -none || m.done() {
		return
	}
	share := m.nodes / int64(certifyShare*len(m.problems))
	total := int64(0)
	for o := range m.problems {
		p := m.priced(o, m.tight)
		s := newSearch(p, Options{Nodes: max(share, 1), Gap: m.opts.Gap / 2})
		if m.best[o] != nil {
			s.keep(p.total(m.best[o]), m.best[o], nil)
		}
		before := s.nodes
		s.run()
		m.nodes -= before - s.nodes
		least := min(s.bound, s.cost)
		if least == none {
			m.bound = none
			return
		}
		if least == -none {
			return
		}
		total += least
	}
	for _, price := range m.tight {
		total -= price
	}
	m.bound = max(m.bound, total)
}

// certifyShare is the part of the work left, one in so many, that goes into the bound.
const certifyShare = 8

// priced is an order with the prices added to its costs.
func (m *many) priced(o int, prices []int64) *problem {
	p := *m.problems[o]
	p.cost = make([]int64, len(prices))
	for j, price := range prices {
		p.cost[j] = m.problems[o].cost[j] + price
	}
	return &p
}
