package app

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/quantity"
)

// PlanBlend asks for barrels of the stock.
type PlanBlend struct {
	Orders []blend.Order
	Values []BlendValue
	// CreditPerDay is taken off the cost of a barrel for each day it is older than the newest on hand.
	CreditPerDay quantity.Money
	Grades       []string // none: all
	Excluded     map[uuid.UUID]bool
	Options      blend.Options
}

// BlendValue is what a unit of some honey could fetch elsewhere; empty fields fit all.
type BlendValue struct {
	Variety, ColorClass string
	Price               quantity.Price
}

// BlendPlan is the answer; the ids of its barrels are their uuids.
type BlendPlan struct {
	*blend.Joint
	Candidates int
}

// PlanBlend plans over the stock as it is now. Only one plan is worked on at a time, so that planning cannot take the
// machine away from the dock.
func (a *App) PlanBlend(ctx context.Context, c PlanBlend) (BlendPlan, error) {
	items, err := a.Stock.Items(ctx, a.DB.Pool(), Filter{}, nil, 0)
	if err != nil {
		return BlendPlan{}, err
	}
	items = slices.DeleteFunc(items, func(i stock.Item) bool { return !c.candidate(i) })
	barrels, err := c.barrels(items)
	if err != nil {
		return BlendPlan{}, err
	}
	select {
	case a.planning <- struct{}{}:
		defer func() { <-a.planning }()
	case <-ctx.Done():
		return BlendPlan{}, fmt.Errorf("wait for another plan: %w", ctx.Err())
	}
	joint, err := blend.ChooseAll(c.Orders, barrels, c.Options)
	return BlendPlan{Joint: joint, Candidates: len(barrels)}, err
}

func (c PlanBlend) candidate(i stock.Item) bool {
	return i.Free("blended") == nil && i.Grading.Moisture != nil && i.Grading.Pfund != nil && !c.Excluded[i.Barrel] &&
		(len(c.Grades) == 0 || slices.Contains(c.Grades, i.Grading.Grade))
}

func (c PlanBlend) barrels(items []stock.Item) ([]blend.Barrel, error) {
	newest := time.Time{}
	dates := make([]time.Time, len(items))
	for n, i := range items {
		date, err := time.Parse(time.DateOnly, i.ReceiveDate)
		if err != nil {
			return nil, fmt.Errorf("delivery date of barrel %s: %w", i.Barrel, err)
		}
		if dates[n] = date; date.After(newest) {
			newest = date
		}
	}
	out := make([]blend.Barrel, len(items))
	for n, i := range items {
		days := int64(newest.Sub(dates[n]) / (24 * time.Hour))
		out[n] = blend.Barrel{
			ID: i.Barrel.String(), Weight: i.Remaining(), Moisture: *i.Grading.Moisture, Density: blend.DensityOf(blend.Pfund(*i.Grading.Pfund)),
			Variety: i.Variety, Member: i.Member, CropYear: i.CropYear, Value: c.value(i),
			Credit: c.CreditPerDay * quantity.Money(days),
		}
	}
	return out, nil
}

func (c PlanBlend) value(i stock.Item) quantity.Price {
	for _, v := range c.Values {
		if (v.Variety == "" || v.Variety == i.Variety) && (v.ColorClass == "" || v.ColorClass == i.Grading.ColorClass) {
			return v.Price
		}
	}
	return 0
}
