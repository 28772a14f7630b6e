package app

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// Swap is a plan that was changed on the floor.
type Swap struct {
	Order blend.Order
	// Plan are its whole barrels, Part one used in part beside them, the zero uuid for none.
	Plan       []uuid.UUID
	Part       uuid.UUID
	PartWeight quantity.Mass
	// Out stay out of the plan and In go in, whole.
	Out, In []uuid.UUID
}

// SwapCheck is the verdict on one.
type SwapCheck struct {
	Limits []blend.Comparison
	// Kept says whether every limit is kept afterwards, by the barrels that are graded.
	Kept bool
	// Barred are the barrels of the changed plan that may not be used.
	Barred []Explanation
	// Weight is that of the changed plan.
	Weight quantity.Mass
}

// After are the whole barrels of the changed plan.
func (c Swap) After() []uuid.UUID {
	return append(slices.DeleteFunc(slices.Clone(c.Plan), c.isOut), c.In...)
}

func (c Swap) isOut(b uuid.UUID) bool { return slices.Contains(c.Out, b) }

// CheckBlendSwap compares every limit of the order before and after: *stock.NotFoundError for a barrel not in
// stock. A barrel used in part counts with what is left in it at most.
func (a *App) CheckBlendSwap(ctx context.Context, c Swap) (SwapCheck, error) {
	known, err := a.known(ctx, c)
	if err != nil {
		return SwapCheck{}, err
	}
	after := c
	after.Plan = c.After()
	if c.isOut(c.Part) {
		after.Part = uuid.Nil
	}
	now := after.used(known)
	out := SwapCheck{}
	out.Limits, out.Kept = c.Order.Compare(c.used(known), now)
	for _, u := range now {
		out.Weight += u.Weight
	}
	for _, id := range after.all() {
		if bars := (PlanBlend{}).barsFor(known[id], &c.Order); len(bars) > 0 {
			out.Barred = append(out.Barred, Explanation{Item: known[id], Bars: bars})
		}
	}
	return out, nil
}

// all are the barrels of the plan, the one in part last.
func (c Swap) all() []uuid.UUID {
	if c.Part == uuid.Nil {
		return c.Plan
	}
	return append(slices.Clone(c.Plan), c.Part)
}

// known reads every barrel the change speaks of.
func (a *App) known(ctx context.Context, c Swap) (map[uuid.UUID]stock.Item, error) {
	named := append(c.all(), c.In...)
	items, err := a.Stock.Barrels(ctx, a.DB.Pool(), named)
	if err != nil {
		return nil, err
	}
	known := make(map[uuid.UUID]stock.Item, len(items))
	for _, i := range items {
		known[i.Barrel] = i
	}
	for _, id := range named {
		if _, is := known[id]; !is {
			return nil, &stock.NotFoundError{Resource: stock.Name(id)}
		}
	}
	return known, nil
}

// used is what the plan takes of the barrels that are graded: whole ones as they are now, one of them in part.
func (c Swap) used(known map[uuid.UUID]stock.Item) []blend.Used {
	var out []blend.Used
	for _, id := range c.all() {
		i := known[id]
		if i.Grading.Moisture == nil || i.Grading.Pfund == nil {
			continue
		}
		b := PlanBlend{}.barrel(i)
		u := blend.Used{Barrel: &b, Weight: b.Weight}
		if id == c.Part {
			u.Weight = min(c.PartWeight, b.Weight)
		}
		out = append(out, u)
	}
	return out
}
