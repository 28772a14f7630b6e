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

// PlanBlend plans over the stock as it is now.
func (a *App) PlanBlend(ctx context.Context, c PlanBlend) (BlendPlan, error) {
	barrels, err := a.candidates(ctx, c)
	if err != nil {
		return BlendPlan{}, err
	}
	var joint *blend.Joint
	err = a.alone(ctx, func() (err error) {
		joint, err = blend.ChooseAll(c.Orders, barrels, c.Options)
		return err
	})
	return BlendPlan{Joint: joint, Candidates: len(barrels)}, err
}

// alone works on one plan at a time, so that planning cannot take the machine away from the dock.
func (a *App) alone(ctx context.Context, work func() error) error {
	select {
	case a.planning <- struct{}{}:
		defer func() { <-a.planning }()
		return work()
	case <-ctx.Done():
		return fmt.Errorf("wait for another plan: %w", ctx.Err())
	}
}

// candidates are the barrels a plan may use.
func (a *App) candidates(ctx context.Context, c PlanBlend) ([]blend.Barrel, error) {
	items, err := a.Stock.Items(ctx, a.DB.Pool(), Filter{}, nil, 0)
	if err != nil {
		return nil, err
	}
	return c.barrels(slices.DeleteFunc(items, func(i stock.Item) bool { return !c.candidate(i) }))
}

func (c PlanBlend) candidate(i stock.Item) bool {
	return len(c.bars(i)) == 0
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
		out[n] = c.barrel(i)
		days := int64(newest.Sub(dates[n]) / (24 * time.Hour))
		credit, err := quantity.MulDiv(int64(c.CreditPerDay), days, 1)
		if err != nil {
			return nil, fmt.Errorf("credit for the age of barrel %s: %w", i.Barrel, err)
		}
		out[n].Credit = quantity.Money(credit)
	}
	return out, nil
}

// barrel is a graded barrel as the planner sees it, without a credit for its age.
func (c PlanBlend) barrel(i stock.Item) blend.Barrel {
	b := blend.Barrel{
		ID: i.Barrel.String(), Weight: i.Remaining(), Moisture: *i.Grading.Moisture, Density: blend.DensityOf(blend.Pfund(*i.Grading.Pfund)),
		Variety: i.Variety, Member: i.Member, CropYear: i.CropYear, Value: c.value(i),
	}
	if i.Grading.HMF != nil {
		hmf := blend.HMF(*i.Grading.HMF)
		b.HMF, b.MeasureDay = &hmf, DayOf(i.Grading.HMFRead)
	}
	return b
}

// DayOf counts days, for what happens between two of them.
func DayOf(t time.Time) int64 { return t.Unix() / int64(24*time.Hour/time.Second) }

func (c PlanBlend) value(i stock.Item) quantity.Price {
	for _, v := range c.Values {
		if (v.Variety == "" || v.Variety == i.Variety) && (v.ColorClass == "" || v.ColorClass == i.Grading.ColorClass) {
			return v.Price
		}
	}
	return 0
}
