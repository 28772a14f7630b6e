package blend

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

func warehouse(seed uint64, n int) []Barrel {
	r := rand.New(rand.NewPCG(seed, 99))
	varieties := []string{"clover", "clover", "basswood", "buckwheat", "goldenrod", "knapweed", "wildflower"}
	barrels := make([]Barrel, n)
	for i := range barrels {
		mm := Pfund(800 + r.IntN(9000))
		barrels[i] = Barrel{
			ID: fmt.Sprintf("b-%05d", i), Weight: quantity.Mass(630_000 + r.IntN(260)*100),
			Moisture: quantity.Percent(1580 + r.IntN(34)*10), Density: DensityOf(mm),
			Variety: varieties[r.IntN(len(varieties))], Member: fmt.Sprintf("members/M-%04d", r.IntN(n/8+1)),
			CropYear: 2026 - int32(boolean(r.IntN(5) == 0)), Credit: quantity.Money(r.IntN(400) * 5),
			Value: quantity.Price(2_200_000 - int64(mm)*60 + int64(r.IntN(200_000))),
		}
	}
	return barrels
}

func charges(seed uint64, n int) []Order {
	r := rand.New(rand.NewPCG(seed, 98))
	orders := make([]Order, n)
	for i := range orders {
		wet, dark := quantity.Percent(1690+r.IntN(5)*10), DensityOf(Pfund(5000+r.IntN(4)*1000))
		least := quantity.Mass(3_840_000 + r.IntN(4)*1_920_000)
		orders[i] = Order{
			ID: fmt.Sprint("T-", i), MinWeight: least, MaxWeight: least + 150_000, MaxMoisture: &wet, MaxDensity: &dark,
		}
		if r.IntN(2) == 0 {
			orders[i].Variety, orders[i].MinShare = "clover", 5100
		}
	}
	return orders
}

// keeps checks a joint plan from the outside: every limit by exact sums over what the plan names, no barrel twice.
func keeps(t *testing.T, orders []Order, barrels []Barrel, j *Joint) {
	t.Helper()
	used := map[string]bool{}
	var cost quantity.Money
	for o, plan := range j.Plans {
		p, err := newProblem(&orders[o], barrels)
		require.NoError(t, err)
		var chosen []int
		for i, b := range p.barrels {
			if slices.Contains(plan.Barrels, b.ID) {
				require.False(t, used[b.ID], "%s twice", b.ID)
				used[b.ID] = true
				chosen = append(chosen, i)
			}
		}
		require.Len(t, chosen, len(plan.Barrels))
		if plan.Status == Found {
			require.True(t, p.fits(chosen), "order %d", o)
		}
		cost += plan.Cost
	}
	require.Equal(t, cost, j.Cost)
}

func TestSeveralOrdersAgainstAnOutsideSolver(t *testing.T) {
	t.Parallel()
	const instances = 72
	var found, proved, impossible atomic.Int64
	inParallel(t, instances, func(dir string, seed uint64) error {
		o, barrels := instance(seed+20_000, 13)
		second, _ := instance(seed+30_000, 13)
		second.ID = "T-2"
		orders := []Order{o, second}
		for i := range orders {
			orders[i].MinWeight = quantity.Mass(2+(seed>>i)%2) * 636_000
			orders[i].MaxWeight = orders[i].MinWeight + 40_000
		}
		j, err := ChooseAll(orders, barrels, Options{Nodes: 40_000})
		if err != nil {
			return err
		}
		keeps(t, orders, barrels, j)
		theirs, err := glpsol(dir, []Format{LP, MPS}[seed%2], orders, barrels)
		if err != nil {
			return err
		}
		has := j.Status == Found || j.Status == Proved
		switch {
		case theirs.infeasible:
			impossible.Add(1)
			if j.Status != Infeasible {
				return fmt.Errorf("ours %s, theirs infeasible", j.Status)
			}
		case j.Status == Infeasible:
			return fmt.Errorf("ours %s, theirs %d", j.Status, theirs.cost)
		case has && int64(j.Cost) < theirs.cost:
			return fmt.Errorf("ours %d is better than their best %d", j.Cost, theirs.cost)
		case j.Bound != nil && int64(*j.Bound) > theirs.cost:
			return fmt.Errorf("our bound %d is above their best %d", *j.Bound, theirs.cost)
		case j.Status != Proved || int64(j.Cost) != theirs.cost:
			return fmt.Errorf("ours %s %d, theirs %d", j.Status, j.Cost, theirs.cost)
		}
		if has {
			found.Add(1)
		}
		if j.Status == Proved {
			proved.Add(1)
		}
		return nil
	})
	t.Logf("%d found of which %d proved, %d impossible", found.Load(), proved.Load(), impossible.Load())
	require.Greater(t, found.Load(), int64(20))
	require.Greater(t, impossible.Load(), int64(40))
}

func TestManyOrdersComeWithinASmallGap(t *testing.T) {
	t.Parallel()
	orders, barrels := charges(3, 5), warehouse(1, 200)
	j, err := ChooseAll(orders, barrels, Options{Nodes: 30_000, Gap: 100})
	require.NoError(t, err)
	keeps(t, orders, barrels, j)
	require.Contains(t, []Status{Found, Proved}, j.Status)
	require.Less(t, int64(j.Cost-*j.Bound), int64(j.Cost)/200, "at most half a percent above the proved bound")
}

func TestAnOrderImpossibleAloneSaysWhy(t *testing.T) {
	t.Parallel()
	orders := charges(3, 3)
	dry := quantity.Percent(1500)
	orders[1].MaxMoisture = &dry
	j, err := ChooseAll(orders, warehouse(1, 120), Options{Nodes: 20_000})
	require.NoError(t, err)
	require.Equal(t, Infeasible, j.Status)
	require.Equal(t, Infeasible, j.Plans[1].Status)
	require.Equal(t, []Limit{MinWeight, MaxMoisture}, j.Plans[1].Conflict)
	require.Nil(t, j.Bound)
}

func TestTheSameQuestionHasTheSameAnswerInWhateverOrderBarrelsCome(t *testing.T) {
	t.Parallel()
	orders, barrels := charges(5, 3), warehouse(2, 150)
	shuffled := slices.Clone(barrels)
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	one, err := Choose(orders[0], barrels, Options{})
	require.NoError(t, err)
	other, err := Choose(orders[0], shuffled, Options{})
	require.NoError(t, err)
	require.Equal(t, one, other)
	all, err := ChooseAll(orders, barrels, Options{Nodes: 20_000})
	require.NoError(t, err)
	again, err := ChooseAll(orders, shuffled, Options{Nodes: 20_000})
	require.NoError(t, err)
	require.Equal(t, all, again)
}

func TestMoreThanTheStockWeighsIsImpossibleThoughEachOrderIsNot(t *testing.T) {
	t.Parallel()
	orders, barrels := charges(3, 24), warehouse(1, 200)
	j, err := ChooseAll(orders, barrels, Options{Nodes: 40_000})
	require.NoError(t, err)
	keeps(t, orders, barrels, j)
	require.Equal(t, Infeasible, j.Status)
	filled := 0
	for _, plan := range j.Plans {
		require.NotEqual(t, Infeasible, plan.Status)
		filled += int(boolean(plan.Status == Found))
	}
	require.Greater(t, filled, 10, "what can be filled is still planned")
}

func TestTooLittleOfASourceForAllOrdersIsProved(t *testing.T) {
	t.Parallel()
	barrels := warehouse(1, 60)
	for i := range barrels {
		barrels[i].Variety = []string{"basswood", "clover"}[boolean(i < 12)]
	}
	orders := charges(3, 3)
	for i := range orders {
		orders[i] = Order{ID: orders[i].ID, MinWeight: 3_840_000, MaxWeight: 3_990_000}
		orders[i].Variety, orders[i].MinShare = "clover", 80_00
	}
	j, err := ChooseAll(orders, barrels, Options{Nodes: 20_000})
	require.NoError(t, err)
	require.Equal(t, Infeasible, j.Status)
	for _, plan := range j.Plans {
		require.NotEqual(t, Infeasible, plan.Status, "each could be filled alone")
	}
	for i := range barrels {
		barrels[i].Variety = []string{"basswood", "clover"}[boolean(i < 20)]
	}
	j, err = ChooseAll(orders, barrels, Options{Nodes: 20_000})
	require.NoError(t, err)
	require.NotEqual(t, Infeasible, j.Status)
}
