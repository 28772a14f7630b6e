package blend

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// Status is how much a plan is known to be worth.
type Status string

// The statuses.
const (
	// Proved: no plan costs less, by more than the gap asked for.
	Proved Status = "PROVED"
	// Found: the plan keeps every limit; something cheaper, down to the bound, is not excluded.
	Found Status = "FOUND"
	// Infeasible: it is proved that no choice of these barrels keeps every limit.
	Infeasible Status = "INFEASIBLE"
	// Undecided: the budget ended without a plan and without a proof that there is none.
	Undecided Status = "UNDECIDED"
)

// Plan is the answer for one order.
type Plan struct {
	Order  string
	Status Status
	// Barrels are the ids of the whole barrels to use, sorted.
	Barrels []string
	// Part is the barrel to use in part beside them, "" for none, and PartWeight how much of it.
	Part       string
	PartWeight quantity.Mass
	// Cost is the value given away less the credits, and Bound what it cannot be below. Bound is nil when nothing is
	// proved or nothing fits.
	Cost  quantity.Money
	Bound *quantity.Money
	// Figures are those of the blend.
	Figures Figures
	// Conflict names, when infeasible, limits that cannot be kept together although all but any one of them can.
	Conflict []Limit
	// Changes are, when infeasible, what limits of the conflict would have to be for a plan to exist, each by itself with all
	// others as they are. Where none is enough alone, Together are changes that are together.
	Changes, Together []Change
	// Nodes is the work it took.
	Nodes int64
}

// Choose plans one order. The error is ErrTooLarge or that of a value out of range.
func Choose(o Order, barrels []Barrel, opts Options) (*Plan, error) {
	if opts.Nodes == 0 {
		opts.Nodes = DefaultNodes
	}
	p, err := newProblem(&o, barrels)
	if err != nil {
		return nil, fmt.Errorf("order %s: %w", o.ID, err)
	}
	s := newSearch(p, opts)
	s.run()
	plan := s.plan(opts)
	if plan.Status == Infeasible {
		if plan.Conflict, err = conflict(o, barrels, opts); err != nil {
			return nil, fmt.Errorf("order %s: %w", o.ID, err)
		}
		if plan.Changes, plan.Together, err = relaxations(o, barrels, plan.Conflict, opts); err != nil {
			return nil, fmt.Errorf("order %s: %w", o.ID, err)
		}
	}
	return plan, nil
}

func (s *search) plan(opts Options) *Plan {
	plan := &Plan{Order: s.p.order.ID, Nodes: opts.Nodes - s.nodes}
	if bound := min(s.bound, s.cost); bound != none && bound != -none {
		b := quantity.Money(bound)
		plan.Bound = &b
	}
	switch {
	case s.hopeless():
		plan.Status = Infeasible
		return plan
	case s.best == nil:
		plan.Status = Undecided
		return plan
	case s.bound >= s.goal():
		plan.Status = Proved
	default:
		plan.Status = Found
	}
	plan.Cost = quantity.Money(s.cost)
	for _, j := range s.best {
		plan.Barrels = append(plan.Barrels, s.p.barrels[j].ID)
	}
	if s.beside != nil {
		plan.Part, plan.PartWeight = s.p.barrels[s.beside.column].ID, s.beside.weight
	}
	plan.Figures = figuresOf(s.p, s.best, s.beside)
	return plan
}
