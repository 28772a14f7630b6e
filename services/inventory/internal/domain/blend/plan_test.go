package blend

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
)

func TestOneOrderIsProvedOverAThousandBarrels(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		o := charges(seed, 1)[0]
		barrels := warehouse(seed, 1000)
		plan, err := Choose(o, barrels, Options{Gap: 100})
		require.NoError(t, err)
		require.Equal(t, Proved, plan.Status, "seed %d after %d nodes", seed, plan.Nodes)
		require.LessOrEqual(t, int64(plan.Cost-*plan.Bound), int64(plan.Cost)/10_000)
	}
}

func TestAFewMembersAreProvedThoughTheRelaxationKnowsLittleOfThem(t *testing.T) {
	t.Parallel()
	for seed := range uint64(3) {
		o, barrels := charges(seed, 1)[0], warehouse(seed, 100)
		o.MaxMembers = 3
		plan, err := Choose(o, barrels, Options{Gap: 100})
		require.NoError(t, err)
		require.Equal(t, Proved, plan.Status, "seed %d after %d nodes", seed, plan.Nodes)
		require.LessOrEqual(t, plan.Figures.Members, int64(3))
	}
}

func TestAnAnswerAtAnyTimeWithABound(t *testing.T) {
	t.Parallel()
	o, barrels := charges(1, 1)[0], warehouse(1, 1000)
	best, err := Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Proved, best.Status)
	before := quantity.Money(none)
	for _, nodes := range []int64{5, 200, 2_000, 20_000} {
		plan, err := Choose(o, barrels, Options{Nodes: nodes})
		require.NoError(t, err)
		require.LessOrEqual(t, *plan.Bound, best.Cost)
		if plan.Status == Undecided {
			continue
		}
		require.GreaterOrEqual(t, plan.Cost, best.Cost)
		require.LessOrEqual(t, plan.Cost, before, "more work never gives a worse plan")
		before = plan.Cost
	}
	require.NotEqual(t, quantity.Money(none), before)
}

func TestNumbersTooLargeToBeExactAreRefused(t *testing.T) {
	t.Parallel()
	_, err := Choose(Order{ID: "T", MaxWeight: 1}, []Barrel{{ID: "a", Weight: maxTotal + 1}, {ID: "b", Weight: 2}}, Options{})
	require.ErrorIs(t, err, ErrTooLarge)
	_, err = Choose(Order{ID: "T", MaxWeight: 1}, []Barrel{{ID: "a", Weight: 1 << 40, Value: 1 << 60}}, Options{})
	require.ErrorIs(t, err, quantity.ErrRange)
}

func TestColorClassesMeetInBothUnits(t *testing.T) {
	t.Parallel()
	rows := published.Where(published.Load(t, "color_classes.csv"), "scheme", "US (USDA 1985)")
	checked := 0
	for _, row := range rows {
		if row.Text("to_mm_pfund") == "" {
			continue
		}
		mm, err := quantity.ParseFixed(row.Text("to_mm_pfund"), 2)
		require.NoError(t, err)
		od, err := quantity.ParseFixed(row.Text("optical_density_upper_limit_560nm_3.15cm"), 4)
		require.NoError(t, err)
		require.Equal(t, Density(od), DensityOf(Pfund(mm)), row.Text("class"))
		require.Equal(t, Pfund(mm), PfundOf(Density(od)), row.Text("class"))
		checked++
	}
	require.Equal(t, 6, checked)
}

func TestDensityRisesWithColor(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		mm := Pfund(rapid.Int64Range(0, 150_00).Draw(t, "mm"))
		if DensityOf(mm) > DensityOf(mm+1) || PfundOf(DensityOf(mm)) > mm {
			t.Fatalf("%s mm is %d", mm, DensityOf(mm))
		}
	})
	require.Equal(t, "42.05", Pfund(42_05).String())
}

// A rounded multiplier is still a proof: no choice of barrels may cost less than the bound, whatever the multipliers.
func TestAnyMultipliersProveABound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o, barrels := instance(rapid.Uint64Range(0, 500).Draw(t, "seed"), 8)
		p, err := newProblem(&o, barrels)
		if err != nil {
			t.Fatal(err)
		}
		all := p.whole([]int{0, 1, 2, 3, 4, 5, 6, 7}, nil)
		l := newRelaxation(p.take(&all))
		for r := range l.rows {
			l.duals[r] = rapid.Float64Range(-3, 3).Draw(t, "dual")
		}
		var proof price
		bound, ok := l.lower(&proof)
		for bits := range 1 << 8 {
			var chosen []int
			for j := range 8 {
				if bits>>j&1 == 1 {
					chosen = append(chosen, j)
				}
			}
			if ok && p.fits(chosen) && p.total(chosen) < bound {
				t.Fatalf("%v costs %d, below the bound %d", chosen, p.total(chosen), bound)
			}
		}
	})
}
