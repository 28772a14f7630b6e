package app

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/stock"
)

// Bar keeps a barrel out of every plan.
type Bar string

// The bars.
const (
	BarNotOnHand  Bar = "NOT_ON_HAND"
	BarHeld       Bar = "HELD"
	BarNotGraded  Bar = "NOT_GRADED"
	BarGrade      Bar = "GRADE"
	BarExcluded   Bar = "EXCLUDED"
	BarHMFUnknown Bar = "HMF_UNKNOWN"
)

// bars lists all that keeps a barrel out of every plan.
func (c PlanBlend) bars(i stock.Item) []Bar {
	var out []Bar
	for _, b := range []struct {
		bar Bar
		is  bool
	}{
		{BarNotOnHand, i.State != stock.OnHand},
		{BarHeld, len(i.Holds) > 0},
		{BarNotGraded, i.Grading.Moisture == nil || i.Grading.Pfund == nil},
		{BarGrade, len(c.Grades) > 0 && !slices.Contains(c.Grades, i.Grading.Grade)},
		{BarExcluded, c.Excluded[i.Barrel]},
	} {
		if b.is {
			out = append(out, b.bar)
		}
	}
	return out
}

// Explanation is why a plan does not use a barrel. Absence is nil when it is barred.
type Explanation struct {
	Item    stock.Item
	Bars    []Bar
	Absence *blend.Absence
}

// ExplainBlendChoice says why the plan does not use a barrel for order n.
func (a *App) ExplainBlendChoice(ctx context.Context, c PlanBlend, n int, barrel uuid.UUID) (Explanation, error) {
	item, err := a.Stock.Item(ctx, a.DB.Pool(), barrel)
	if err != nil {
		return Explanation{}, err
	}
	out := Explanation{Item: item, Bars: c.barsFor(item, &c.Orders[n])}
	if len(out.Bars) > 0 {
		return out, nil
	}
	barrels, err := a.candidates(ctx, c)
	if err != nil {
		return out, err
	}
	if !slices.ContainsFunc(barrels, func(b blend.Barrel) bool { return b.ID == barrel.String() }) {
		// It left the house between the two reads.
		out.Bars = []Bar{BarNotOnHand}
		return out, nil
	}
	return out, a.alone(ctx, func() (err error) {
		out.Absence, err = blend.WhyNot(c.Orders, n, barrel.String(), barrels, c.Options)
		return err
	})
}

// barsFor adds to bars what an order asks of every single barrel.
func (c PlanBlend) barsFor(i stock.Item, o *blend.Order) []Bar {
	out := c.bars(i)
	if o.MaxHMF != nil && i.Grading.HMF == nil {
		out = append(out, BarHMFUnknown)
	}
	return out
}
