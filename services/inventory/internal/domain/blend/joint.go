package blend

import "barrelhead.example/services/kit/quantity"

// Joint is the answer for several orders over one stock.
type Joint struct {
	Status Status
	// Plans are in the order of the orders. One that could not be filled is UNDECIDED, or INFEASIBLE with its conflict
	// when it could not be filled even alone. The whole can be INFEASIBLE although each is possible alone: then it is
	// proved that the stock does not suffice for all of them.
	Plans []*Plan
	// Cost is that of all filled orders together, and Bound what filling all of them cannot cost less than.
	Cost  quantity.Money
	Bound *quantity.Money
	Nodes int64
}

func (m *many) answer(orders []Order, barrels []Barrel) (*Joint, error) {
	j := &Joint{Nodes: (m.granted - m.nodes) / worth, Status: Found}
	for o := range orders {
		plan, err := m.planOf(orders[o], barrels, o)
		if err != nil {
			return nil, err
		}
		j.Plans = append(j.Plans, plan)
		j.Cost += plan.Cost
		switch {
		case plan.Status == Infeasible:
			j.Status = Infeasible
		case plan.Status == Undecided && j.Status != Infeasible:
			j.Status = Undecided
		}
	}
	if m.short || m.bound > m.dearest {
		j.Status = Infeasible
	}
	if j.Status == Infeasible {
		return j, nil
	}
	if m.bound != -none && m.bound != none {
		b := quantity.Money(min(m.bound, m.cost))
		j.Bound = &b
	}
	if j.Status == Found && m.done() {
		j.Status = Proved
	}
	return j, nil
}

// planOf describes what one order got. One that got nothing is looked at alone: if that is impossible, it says why.
func (m *many) planOf(o Order, barrels []Barrel, n int) (*Plan, error) {
	p := m.problems[n]
	if m.best[n] == nil {
		alone, err := Choose(o, barrels, Options{Nodes: m.opts.Nodes})
		if err != nil || alone.Status == Infeasible {
			return alone, err
		}
		return &Plan{Order: o.ID, Status: Undecided}, nil
	}
	plan := &Plan{Order: o.ID, Status: Found, Cost: quantity.Money(p.total(m.best[n])), Figures: figuresOf(p, m.best[n], nil)}
	for _, j := range m.best[n] {
		plan.Barrels = append(plan.Barrels, p.barrels[j].ID)
	}
	return plan, nil
}
