package blend

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// instance makes an order over n barrels from a seed: barrels as in a cooperative's warehouse, limits that about a third
// of the time cannot be met.
func instance(seed uint64, n int) (Order, []Barrel) {
	r := rand.New(rand.NewPCG(seed, 7))
	varieties := []string{"clover", "basswood", "knapweed"}
	barrels := make([]Barrel, n)
	for i := range barrels {
		barrels[i] = Barrel{
			ID:       fmt.Sprintf("b-%04d", i),
			Weight:   quantity.Mass(1240+r.IntN(80)) * 500,
			Moisture: quantity.Percent(1600 + r.IntN(30)*10),
			Density:  Density(1000 + r.IntN(60)*100),
			Variety:  varieties[r.IntN(len(varieties))],
			Member:   fmt.Sprintf("members/M-%04d", r.IntN(6)),
			CropYear: 2026 - int32(boolean(r.IntN(4) == 0)),
			Value:    quantity.Price(1_500_000 + r.IntN(60)*10_000),
			Credit:   quantity.Money(r.IntN(20) * 50),
		}
	}
	return limits(r, n), barrels
}

func limits(r *rand.Rand, n int) Order {
	k := 2 + r.IntN(max(1, n/3))
	o := Order{
		ID: "T-1", MinWeight: quantity.Mass(k) * 636_000, Price: 1_700_000, AgedCropYear: 2025,
		Variety: "clover", MinShare: quantity.Percent(r.IntN(7) * 1000),
	}
	o.MaxWeight = o.MinWeight + quantity.Mass(8+r.IntN(30))*1000
	wet, dark := quantity.Percent(1710+r.IntN(12)*10), Density(3500+r.IntN(25)*100)
	if r.IntN(2) == 0 {
		// Near what the driest and lightest barrels reach together, where a plan exists or not by a hair.
		wet, dark = wet-80, dark-1200
	}
	o.MaxMoisture = &wet
	if r.IntN(2) == 0 {
		dry := wet - quantity.Percent(20+r.IntN(6)*10)
		o.MinMoisture = &dry
	}
	o.MaxDensity = &dark
	if r.IntN(2) == 0 {
		light := dark - Density(600+r.IntN(10)*100)
		o.MinDensity = &light
	}
	if r.IntN(2) == 0 {
		aged := int64(r.IntN(4))
		o.MaxAged = &aged
	}
	if r.IntN(2) == 0 {
		o.MaxMembers = int64(2 + r.IntN(4))
	}
	return o
}

func TestChooseAgainstEveryChoice(t *testing.T) {
	t.Parallel()
	infeasible := 0
	for seed := range uint64(80) {
		o, barrels := instance(seed, 6+int(seed%9))
		p, err := newProblem(&o, barrels)
		require.NoError(t, err)
		want := int64(none)
		for bits := range 1 << len(barrels) {
			var chosen []int
			for j := range barrels {
				if bits>>j&1 == 1 {
					chosen = append(chosen, j)
				}
			}
			if cost := p.total(chosen); cost < want && p.fits(chosen) {
				want = cost
			}
		}
		plan, err := Choose(o, barrels, Options{})
		require.NoError(t, err)
		if want == none {
			infeasible++
			require.Equal(t, Infeasible, plan.Status, "seed %d", seed)
			continue
		}
		require.Equal(t, Proved, plan.Status, "seed %d", seed)
		require.Equal(t, want, int64(plan.Cost), "seed %d", seed)
		require.Equal(t, want, int64(*plan.Bound), "seed %d", seed)
	}
	require.InDelta(t, 80, infeasible, 50, "both kinds must be tried")
}
