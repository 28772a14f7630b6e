package blend

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// rich adds HMF, a group and a cap on members to an instance, most of which leave something to choose.
func rich(seed uint64, n int) (Order, []Barrel) {
	o, barrels := instance(seed, n)
	r := rand.New(rand.NewPCG(seed, 11))
	valley := Group{Name: "Upper Valley", Barrels: map[string]bool{}}
	for i := range barrels {
		hmf := HMF(r.IntN(150))
		barrels[i].HMF, barrels[i].MeasureDay = &hmf, int64(20_000+r.IntN(60))
		if r.IntN(12) == 0 {
			barrels[i].HMF = nil
		}
		valley.Barrels[barrels[i].ID] = r.IntN(2) == 0
	}
	if most := HMF(250 + r.IntN(200)); r.IntN(4) > 0 {
		o.MaxHMF, o.BestByDay, o.DaysToGain = &most, 20_730, 600
		if r.IntN(3) == 0 {
			o.MaxHMF = pointer(HMF(405))
		}
	}
	switch r.IntN(3) {
	case 0:
		valley.Min = pointer(quantity.Percent(r.IntN(80) * 100))
	case 1:
		valley.Max = pointer(quantity.Percent(20_00 + r.IntN(80)*100))
	}
	o.Groups = []Group{valley}
	return o, barrels
}

func pointer[T any](v T) *T { return &v }

// cheapestWith tries every choice of whole barrels, by the definition of the limits and nothing of the planner; must is an
// id, or "".
func cheapestWith(t *testing.T, o Order, barrels []Barrel, must string) int64 {
	t.Helper()
	p, err := newProblem(&o, barrels)
	require.NoError(t, err)
	best := int64(none)
	for bits := range 1 << len(barrels) {
		weights := make([]int64, len(barrels))
		var cost int64
		has := must == ""
		for j := range barrels {
			if bits>>j&1 == 1 {
				weights[j] = int64(barrels[j].Weight)
				cost += p.cost[j]
				has = has || barrels[j].ID == must
			}
		}
		if has && cost < best && mixes(o, barrels, weights) {
			best = cost
		}
	}
	return best
}

func TestEveryLimitAgainstEveryChoice(t *testing.T) {
	t.Parallel()
	impossible := 0
	for seed := range uint64(90) {
		o, barrels := rich(seed+2_000, 6+int(seed%6))
		want := cheapestWith(t, o, barrels, "")
		plan, err := Choose(o, barrels, Options{})
		require.NoError(t, err)
		if want == none {
			impossible++
			require.Equal(t, Infeasible, plan.Status, "seed %d", seed)
			provesItsWaysOut(t, o, barrels, plan)
			continue
		}
		require.Equal(t, Proved, plan.Status, "seed %d", seed)
		require.Equal(t, want, int64(plan.Cost), "seed %d", seed)
	}
	require.InDelta(t, 96, impossible, 50, "both kinds must be tried")
}

// provesItsWaysOut tries every change of an impossible order: with it there is a plan, and a hair nearer there is none.
func provesItsWaysOut(t *testing.T, o Order, barrels []Barrel, plan *Plan) {
	t.Helper()
	for _, c := range plan.Changes {
		require.Contains(t, plan.Conflict, c.Limit)
		require.NotEqual(t, int64(none), cheapestWith(t, o.With(c), barrels, ""), "%+v", c)
		require.True(t, c.Nearest)
		hair := c
		hair.To += 1 - 2*boolean(c.To > c.From)
		if hair.To != c.From {
			require.Equal(t, int64(none), cheapestWith(t, o.With(hair), barrels, ""), "%+v is not the nearest", c)
		}
	}
	if len(plan.Together) > 0 {
		require.Empty(t, plan.Changes)
		given := o
		for _, c := range plan.Together {
			given = given.With(c)
		}
		require.NotEqual(t, int64(none), cheapestWith(t, given, barrels, ""), "%+v", plan.Together)
	}
	require.NotEmpty(t, append(plan.Changes, plan.Together...), "%v", plan.Conflict)
}

func TestWhyNotSaysWhatTryingEveryChoiceSays(t *testing.T) {
	t.Parallel()
	seen := map[Role]int{}
	for seed := range uint64(36) {
		o, barrels := rich(seed+3_000, 7+int(seed%3))
		best := cheapestWith(t, o, barrels, "")
		for _, b := range barrels {
			a, err := WhyNot([]Order{o}, 0, b.ID, barrels, Options{})
			require.NoError(t, err)
			seen[a.Role]++
			with := cheapestWith(t, o, barrels, b.ID)
			switch {
			case best == none:
				require.Equal(t, NoPlan, a.Role)
			case with == none:
				require.Equal(t, Breaks, a.Role, "seed %d %s", seed, b.ID)
				for _, c := range a.Changes {
					require.NotEqual(t, int64(none), cheapestWith(t, o.With(c), barrels, b.ID), "%+v", c)
				}
			case a.Role == InPlan:
				require.Equal(t, best, with)
			default:
				require.Equal(t, Dearer, a.Role, "seed %d %s", seed, b.ID)
				require.Equal(t, with-best, int64(a.More))
				require.Equal(t, a.More, a.AtLeast)
				require.Contains(t, a.With.Barrels, b.ID)
			}
		}
	}
	for _, r := range []Role{InPlan, Dearer, Breaks, NoPlan} {
		require.Greater(t, seen[r], 8, r)
	}
}

func TestAComparisonKeepsWhatTheDefinitionKeeps(t *testing.T) {
	t.Parallel()
	kept, broken := 0, 0
	for seed := range uint64(800) {
		o, barrels := rich(seed+5_000, 8)
		r := rand.New(rand.NewPCG(seed, 3))
		weights := make([]int64, len(barrels))
		var used []Used
		for i := range barrels {
			if r.IntN(3) > 0 {
				continue
			}
			weights[i] = int64(barrels[i].Weight)
			used = append(used, Used{&barrels[i], barrels[i].Weight})
		}
		if len(used) == 0 {
			continue
		}
		if seed%2 == 0 {
			// Exactly what it weighs, so that the means decide.
			total := int64(0)
			for _, w := range weights {
				total += w
			}
			o.MinWeight, o.MaxWeight = quantity.Mass(total), quantity.Mass(total)
			o.MaxHMF, o.MaxMembers = nil, 0
		}
		all, ok := o.Compare(used, used)
		require.Equal(t, mixes(o, barrels, weights), ok, "seed %d", seed)
		for _, c := range all {
			require.Equal(t, c.Kept, c.Excess == "", "%+v", c)
			require.Equal(t, c.Before, c.After)
		}
		kept += int(boolean(ok))
		broken += int(boolean(!ok))
	}
	require.Greater(t, kept, 10)
	require.Greater(t, broken, 200)
}

func TestAMeanIsShownSoThatWhatReadsAsKeptIsKept(t *testing.T) {
	t.Parallel()
	most := quantity.Percent(17_80)
	o := Order{ID: "T", MinWeight: 1, MaxWeight: 3_000_000, MaxMoisture: &most}
	barrels := []Barrel{{ID: "a", Weight: 640_000, Moisture: 17_80}, {ID: "b", Weight: 640_001, Moisture: 17_80}, {ID: "c", Weight: 1, Moisture: 18_00}}
	used := []Used{{&barrels[0], 640_000}, {&barrels[1], 640_001}}
	all, ok := o.Compare(used, append(slices.Clone(used), Used{&barrels[2], 1}))
	require.False(t, ok)
	i := slices.IndexFunc(all, func(c Comparison) bool { return c.Limit == MaxMoisture })
	require.Equal(t, "17.80", all[i].Before)
	require.Equal(t, "17.80001", all[i].After, "0.00000016 over is over")
	require.Equal(t, "0.00001", all[i].Excess)
}

func TestWhyNotAmongSeveralOrders(t *testing.T) {
	t.Parallel()
	orders, barrels, effort := charges(3, 2), warehouse(1, 60), Options{Nodes: 5_000}
	j, err := ChooseAll(orders, barrels, effort)
	require.NoError(t, err)
	other := j.Plans[1].Barrels[0]
	a, err := WhyNot(orders, 0, other, barrels, effort)
	require.NoError(t, err)
	require.Contains(t, []Role{Dearer, Breaks, Starves, Unsettled}, a.Role)
	if a.Role != Breaks {
		require.Equal(t, orders[1].ID, a.Order, "says which order has it")
	}
	require.LessOrEqual(t, a.AtLeast, a.More)
	a, err = WhyNot(orders, 1, other, barrels, effort)
	require.NoError(t, err)
	require.Equal(t, InPlan, a.Role)
}
