package blend

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// pails makes an instance of small containers, so that every part of every one can be tried.
func pails(seed uint64, n int) (Order, []Barrel) {
	o, barrels := instance(seed, n)
	r := rand.New(rand.NewPCG(seed, 5))
	for i := range barrels {
		barrels[i].Weight = 24 * Step
		if seed%3 > 0 {
			// Containers of one weight make rows that could be divided, and must not be rounded.
			barrels[i].Weight = quantity.Mass(20+r.IntN(20)) * Step
		}
		barrels[i].Value *= 100
		barrels[i].Credit = quantity.Money(r.IntN(50))
	}
	o.Price *= 100
	o.MinWeight = quantity.Mass(40+r.IntN(60)) * Step
	o.MaxWeight = o.MinWeight + quantity.Mass(r.IntN(8))*Step
	o.PartBarrel = true
	return o, barrels
}

// mixes says from the definition of the limits, and nothing of the planner, whether weights of barrels keep an order.
func mixes(o Order, barrels []Barrel, weights []int64) bool {
	var total, water, color, share, aged, hmf int64
	groups := make([]int64, len(o.Groups))
	members := map[string]bool{}
	for i, w := range weights {
		if w == 0 {
			continue
		}
		b := barrels[i]
		total += w
		water += w * int64(b.Moisture)
		color += w * int64(b.Density)
		share += w * boolean(b.Variety == o.Variety)
		aged += boolean(b.CropYear <= o.AgedCropYear)
		members[b.Member] = true
		if o.MaxHMF != nil {
			if b.HMF == nil {
				return false
			}
			gain := (max(0, o.BestByDay-b.MeasureDay)*300 + o.DaysToGain - 1) / o.DaysToGain
			hmf += w * (int64(*b.HMF) + gain)
		}
		for g := range o.Groups {
			groups[g] += w * 100_00 * boolean(o.Groups[g].Barrels[b.ID])
		}
	}
	within := func(sum int64, low, high *int64) bool {
		return (low == nil || sum >= *low*total) && (high == nil || sum <= *high*total)
	}
	for g, sum := range groups {
		if !within(sum, (*int64)(o.Groups[g].Min), (*int64)(o.Groups[g].Max)) {
			return false
		}
	}
	return within(hmf, nil, (*int64)(o.MaxHMF)) && total >= int64(o.MinWeight) && total <= int64(o.MaxWeight) &&
		within(water, (*int64)(o.MinMoisture), (*int64)(o.MaxMoisture)) && within(color, (*int64)(o.MinDensity), (*int64)(o.MaxDensity)) &&
		share*100_00 >= int64(o.MinShare)*total && (o.MaxAged == nil || aged <= *o.MaxAged) &&
		(o.MaxMembers == 0 || int64(len(members)) <= o.MaxMembers)
}

// cheapest tries every choice of whole barrels and every part of every other.
func cheapest(t *testing.T, o Order, barrels []Barrel) int64 {
	t.Helper()
	p, err := newProblem(&o, barrels)
	require.NoError(t, err)
	best := int64(none)
	for bits := range 1 << len(barrels) {
		weights := make([]int64, len(barrels))
		var chosen []int
		for j := range barrels {
			if bits>>j&1 == 1 {
				weights[j] = int64(barrels[j].Weight)
				chosen = append(chosen, j)
			}
		}
		base := p.total(chosen)
		if base < best && mixes(o, barrels, weights) {
			best = base
		}
		for j := range barrels {
			if weights[j] != 0 {
				continue
			}
			for w := Step; w < barrels[j].Weight; w += Step {
				weights[j] = int64(w)
				if cost := base + p.partCost(j, w); cost < best && mixes(o, barrels, weights) {
					best = cost
				}
			}
			weights[j] = 0
		}
	}
	return best
}

func TestAPartBarrelAgainstEveryPartOfEveryBarrel(t *testing.T) {
	t.Parallel()
	found, parted, impossible, equal := 0, 0, 0, 0
	for seed := range uint64(150) {
		o, barrels := pails(seed, 7)
		want := cheapest(t, o, barrels)
		plan, err := Choose(o, barrels, Options{})
		require.NoError(t, err)
		if want == none {
			impossible++
			require.Contains(t, []Status{Infeasible, Undecided}, plan.Status, "seed %d", seed)
			continue
		}
		require.Contains(t, []Status{Found, Proved}, plan.Status, "seed %d", seed)
		found++
		weights := make([]int64, len(barrels))
		for i, b := range barrels {
			if contained(plan.Barrels, b.ID) {
				weights[i] = int64(b.Weight)
			}
			if plan.Part == b.ID {
				weights[i] = int64(plan.PartWeight)
				parted++
			}
		}
		require.True(t, mixes(o, barrels, weights), "seed %d: %+v", seed, plan)
		require.GreaterOrEqual(t, int64(plan.Cost), want, "seed %d", seed)
		require.LessOrEqual(t, int64(*plan.Bound), want, "seed %d", seed)
		p, err := newProblem(&o, barrels)
		require.NoError(t, err)
		if plan.Status == Proved {
			require.LessOrEqual(t, int64(plan.Cost)-want, p.stepCost, "seed %d", seed)
		}
		equal += int(boolean(int64(plan.Cost) == want))
	}
	t.Logf("%d found, %d of them with a part, %d the very best; %d impossible", found, parted, equal, impossible)
	require.Greater(t, parted, 40)
	require.Greater(t, impossible, 10)
}

func contained(ids []string, id string) bool {
	for _, in := range ids {
		if in == id {
			return true
		}
	}
	return false
}

func TestAPartBarrelMeetsAWeightNoWholeBarrelsMeet(t *testing.T) {
	t.Parallel()
	barrels := []Barrel{
		{ID: "a", Weight: 640_000, Moisture: 1700, Member: "m1", Value: 2_000_000},
		{ID: "b", Weight: 650_000, Moisture: 1700, Member: "m2", Value: 2_100_000},
	}
	o := Order{ID: "T-1", MinWeight: 1_000_000, MaxWeight: 1_000_000}
	plan, err := Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Infeasible, plan.Status)
	o.PartBarrel = true
	plan, err = Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, []string{"a"}, plan.Barrels)
	require.Equal(t, "b", plan.Part)
	require.Equal(t, quantity.Mass(360_000), plan.PartWeight)
	require.Equal(t, quantity.Mass(1_000_000), plan.Figures.Weight)
	require.Equal(t, quantity.Money(1280_00+756_00), plan.Cost)
}

func TestAPartOfOneBarrelAloneIsAPlan(t *testing.T) {
	t.Parallel()
	barrels := []Barrel{{ID: "a", Weight: 640_000, Moisture: 1700, Member: "m1", Value: 2_000_000}}
	plan, err := Choose(Order{ID: "T-1", MinWeight: 100_000, MaxWeight: 100_000, PartBarrel: true}, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Proved, plan.Status)
	require.Empty(t, plan.Barrels)
	require.Equal(t, "a", plan.Part)
	require.Equal(t, quantity.Mass(100_000), plan.PartWeight)
}

func TestAPartBarrelOverAThousand(t *testing.T) {
	t.Parallel()
	o, barrels := charges(1, 1)[0], warehouse(1, 1000)
	o.PartBarrel = true
	plan, err := Choose(o, barrels, Options{Gap: 100})
	require.NoError(t, err)
	require.Equal(t, Proved, plan.Status, "%d nodes", plan.Nodes)
	whole := o
	whole.PartBarrel = false
	without, err := Choose(whole, barrels, Options{Gap: 100})
	require.NoError(t, err)
	require.LessOrEqual(t, int64(plan.Cost), int64(without.Cost)+int64(plan.Cost)/10_000, "a part can only help")
}
