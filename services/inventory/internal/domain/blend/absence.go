package blend

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// Role is what a barrel is to a plan.
type Role string

// The roles.
const (
	// InPlan: the plan uses it.
	InPlan Role = "IN_PLAN"
	// Dearer: a plan with it keeps every limit and costs More.
	Dearer Role = "DEARER"
	// Breaks: it is proved that no plan with it keeps every limit. Changes say by how much the limits would have to give.
	Breaks Role = "BREAKS"
	// Starves: this order could be filled with it, but then not all of the others.
	Starves Role = "STARVES"
	// Unsettled: the budget ended without a plan that uses it and without a proof that there is none.
	Unsettled Role = "UNSETTLED"
	// NoPlan: there is no plan without it either.
	NoPlan Role = "NO_PLAN"
)

// Absence says why a plan does not use a barrel.
type Absence struct {
	Role Role
	// Order is the id of the order whose plan uses it, "" for none.
	Order string
	// More is what the cheapest plan found with it costs more than the plan, for Dearer: 0 if it would have done as well.
	// AtLeast is what is proved of that; both are equal when all is proved.
	More, AtLeast quantity.Money
	// Conflict and Changes are those of the order with the barrel in it, for Breaks: together with it these limits cannot be
	// kept, and each would have to be this much wider even in the best completion.
	Conflict          []Limit
	Changes, Together []Change
	// With is the plan of the order with it, for Dearer.
	With *Plan
}

// WhyNot explains why the plan of orders does not use a barrel for order n: it plans again with the barrel in it.
func WhyNot(orders []Order, n int, id string, barrels []Barrel, opts Options) (*Absence, error) {
	plan, err := ChooseAll(orders, barrels, opts)
	if err != nil {
		return nil, err
	}
	if plan.Status == Infeasible || plan.Status == Undecided {
		return &Absence{Role: NoPlan}, nil
	}
	if holder(plan, id) == orders[n].ID {
		return &Absence{Role: InPlan, Order: orders[n].ID}, nil
	}
	return forced(orders, n, id, barrels, opts, plan)
}

func forced(orders []Order, n int, id string, barrels []Barrel, opts Options, plan *Joint) (*Absence, error) {
	with := slices.Clone(orders)
	with[n].Must = id
	alone, err := Choose(with[n], barrels, opts)
	if err != nil {
		return nil, fmt.Errorf("with barrel %s: %w", id, err)
	}
	if alone.Status == Infeasible {
		return &Absence{Role: Breaks, Conflict: alone.Conflict, Changes: alone.Changes, Together: alone.Together}, nil
	}
	other, err := ChooseAll(with, barrels, opts)
	if err != nil {
		return nil, fmt.Errorf("with barrel %s: %w", id, err)
	}
	switch other.Status {
	case Infeasible:
		return &Absence{Role: Starves, Order: holder(plan, id)}, nil
	case Undecided:
		return &Absence{Role: Unsettled, Order: holder(plan, id)}, nil
	default:
		a := &Absence{Role: Dearer, Order: holder(plan, id), More: max(0, other.Cost-plan.Cost), With: other.Plans[n]}
		if other.Bound != nil {
			a.AtLeast = max(0, *other.Bound-plan.Cost)
		}
		return a, nil
	}
}

// holder is the order whose plan uses the barrel, "" for none.
func holder(plan *Joint, id string) string {
	for _, p := range plan.Plans {
		if slices.Contains(p.Barrels, id) || p.Part == id {
			return p.Order
		}
	}
	return ""
}
