package blend

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// equals are n barrels that differ in nothing but their ids.
func equals(n int) []Barrel {
	out := make([]Barrel, n)
	for i := range out {
		out[i] = Barrel{ID: fmt.Sprintf("b-%04d", i), Weight: 640_000, Moisture: 1740, Density: 4000, Variety: "clover", Member: "m", CropYear: 2026, Value: 2_000_000}
	}
	return out
}

// twoKinds are barrels of 640 and of 650, every other one, so that a sum always ends in 0.
func twoKinds(n int) []Barrel {
	out := equals(n)
	for i := range out {
		out[i].Weight += quantity.Mass(i%2) * 10_000
		out[i].Value += quantity.Price(i%2) * 10_000
	}
	return append(out, Barrel{ID: "z", Weight: 1, Moisture: 1740, Density: 4000, Variety: "clover", Member: "z", CropYear: 2026, Value: 2_000_000})
}

func TestHardQuestionsHaveTheirAnswers(t *testing.T) {
	t.Parallel()
	at, over, none := quantity.Percent(1740), quantity.Percent(1739), int64(0)
	for name, c := range map[string]struct {
		order   Order
		barrels []Barrel
		status  Status
		uses    []string
	}{
		"no barrels":                   {Order{MinWeight: 1, MaxWeight: 640_000}, nil, Infeasible, nil},
		"one barrel, exactly":          {Order{MinWeight: 640_000, MaxWeight: 640_000}, equals(1), Proved, []string{"b-0000"}},
		"one barrel, a hair short":     {Order{MinWeight: 640_001, MaxWeight: 700_000}, equals(1), Infeasible, nil},
		"ties go to the lower id":      {Order{MinWeight: 1_280_000, MaxWeight: 1_280_000}, equals(40), Proved, []string{"b-0000", "b-0001"}},
		"at the limit":                 {Order{MinWeight: 640_000, MaxWeight: 640_000, MaxMoisture: &at, MinMoisture: &at}, equals(60), Proved, []string{"b-0000"}},
		"a hair over":                  {Order{MinWeight: 640_000, MaxWeight: 64_000_000, MaxMoisture: &over}, equals(200), Infeasible, nil},
		"between two counts":           {Order{MinWeight: 1_280_001, MaxWeight: 1_919_999}, equals(500), Infeasible, nil},
		"no mixture of two kinds":      {Order{MinWeight: 25_603_000, MaxWeight: 25_607_000}, twoKinds(60), Infeasible, nil},
		"a window of nothing":          {Order{MinWeight: 640_000, MaxWeight: 640_000, MaxAged: &none, AgedCropYear: 2026}, equals(30), Infeasible, nil},
		"more than there is":           {Order{MinWeight: 640_000_000, MaxWeight: 641_000_000}, equals(500), Infeasible, nil},
		"the greatest weight there is": {Order{MinWeight: 640_000, MaxWeight: 1<<63 - 1}, equals(3), Proved, []string{"b-0000"}},
		"one barrel in part":           {Order{MinWeight: 100, MaxWeight: 100, PartBarrel: true}, equals(1), Proved, nil},
	} {
		c.order.ID = name
		plan, err := Choose(c.order, c.barrels, Options{})
		require.NoError(t, err, name)
		require.Equal(t, c.status, plan.Status, name)
		require.Equal(t, c.uses, plan.Barrels, name)
		if c.status == Infeasible {
			require.NotEmpty(t, plan.Conflict, name)
		}
	}
}

func TestTheSameInKilogramsIsTheSamePlan(t *testing.T) {
	t.Parallel()
	o, barrels := charges(2, 1)[0], warehouse(2, 60)
	pounds, err := Choose(o, barrels, Options{})
	require.NoError(t, err)
	// Ten times the numbers: another unit in which everything is exact.
	for i := range barrels {
		barrels[i].Weight *= 10
		barrels[i].Value /= 10
	}
	o.MinWeight, o.MaxWeight = o.MinWeight*10, o.MaxWeight*10
	other, err := Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Proved, other.Status)
	require.Equal(t, pounds.Barrels, other.Barrels)
}

func TestEqualBarrelsForManyOrdersAreSharedOut(t *testing.T) {
	t.Parallel()
	orders := make([]Order, 5)
	for i := range orders {
		orders[i] = Order{ID: fmt.Sprint("T-", i), MinWeight: 1_280_000, MaxWeight: 1_280_000}
	}
	j, err := ChooseAll(orders, equals(10), Options{})
	require.NoError(t, err)
	require.Equal(t, Proved, j.Status)
	keeps(t, orders, equals(10), j)
	j, err = ChooseAll(orders, equals(9), Options{})
	require.NoError(t, err)
	require.Equal(t, Infeasible, j.Status)
}
