package blend

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// Orders of few barrels are decided from lists of all their choices, others by a search; each must say what the other says.
func TestListingAndSearchingAgree(t *testing.T) {
	t.Parallel()
	var plans, impossible, decided int
	for seed := range uint64(20) {
		first, barrels := instance(seed+40_000, 14)
		orders := []Order{first}
		for n := range 1 + seed%2 {
			o, _ := instance(seed+50_000+1000*n, 14)
			o.ID = fmt.Sprint("T-", n+2)
			orders = append(orders, o)
		}
		opts := Options{Nodes: 10_000}
		listed, err := newMany(orders, barrels, opts)
		require.NoError(t, err)
		of := listed.list(listTried)
		require.NotNil(t, of)
		listed.choose(of)
		searched, err := newMany(orders, barrels, opts)
		require.NoError(t, err)
		searched.search()
		if listed.cost == none {
			impossible++
			require.True(t, listed.short, "seed %d: 14 barrels are always decided", seed)
			require.Equal(t, int64(none), searched.cost, "seed %d", seed)
			continue
		}
		plans++
		require.Equal(t, listed.cost, listed.bound, "seed %d", seed)
		require.False(t, searched.short || searched.bound > searched.dearest, "seed %d: a plan is there", seed)
		require.LessOrEqual(t, searched.bound, listed.cost, "seed %d", seed)
		require.GreaterOrEqual(t, searched.cost, listed.cost, "seed %d", seed)
		decided += int(boolean(searched.done()))
	}
	require.Greater(t, plans, 3)
	require.Greater(t, impossible, 3)
	require.Greater(t, decided, plans*3/4, "the search lists what may be better than its plan")
}

// Where not all orders can be filled as many are as go together.
func TestAnImpossibleWholeStillFillsWhatItCan(t *testing.T) {
	t.Parallel()
	_, barrels := instance(3, 14)
	o := Order{ID: "T-1", MinWeight: 3 * 600_000, MaxWeight: 3 * 680_000}
	orders := []Order{o, o, o, o, o}
	for i := range orders {
		orders[i].ID = fmt.Sprint("T-", i+1)
	}
	j, err := ChooseAll(orders, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Infeasible, j.Status)
	require.Equal(t, 4, countFound(j))
	for i := range orders {
		orders[i].MinWeight, orders[i].MaxWeight = 4*600_000, 4*680_000
	}
	j, err = ChooseAll(orders, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Infeasible, j.Status, "twenty barrels are asked for")
	require.Equal(t, 3, countFound(j))
}

func countFound(j *Joint) (n int) {
	for _, p := range j.Plans {
		n += int(boolean(p.Status == Found))
	}
	return n
}

// Where neither prices nor a search find a plan, all choices are listed if they can be.
func TestWhatNoSearchFindsIsListed(t *testing.T) {
	t.Parallel()
	found, impossible := 0, 0
	for seed := range uint64(30) {
		first, barrels := instance(seed+90_000, 14)
		second, _ := instance(seed+95_000, 14)
		second.ID = "T-2"
		m, err := newMany([]Order{first, second}, barrels, Options{Nodes: 2_000})
		require.NoError(t, err)
		require.True(t, m.fromAll(), "14 barrels have few choices")
		if m.cost == none {
			impossible++
			require.True(t, m.short, "seed %d", seed)
			continue
		}
		found++
		require.Equal(t, m.cost, m.bound, "seed %d", seed)
		keepsApart(t, m)
		few, err := newMany([]Order{first, second}, barrels, Options{Nodes: 1})
		require.NoError(t, err)
		few.nodes = 0
		require.False(t, few.fromAll(), "nothing may be tried")
	}
	require.Greater(t, found, 3)
	require.Greater(t, impossible, 3)
}
