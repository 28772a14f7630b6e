package blend

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// everyChoice tries all sets of barrels.
func everyChoice(p *problem, below int64) (all []string) {
	for set := range 1 << len(p.barrels) {
		var chosen []int
		for j := range p.barrels {
			if set>>j&1 == 1 {
				chosen = append(chosen, j)
			}
		}
		if p.total(chosen) < below && p.fits(chosen) {
			all = append(all, fmt.Sprint(chosen))
		}
	}
	slices.Sort(all)
	return all
}

func swept(p *problem, below int64, into *[]string) func(chosen []int) {
	return func(chosen []int) {
		if p.total(chosen) < below {
			*into = append(*into, fmt.Sprint(slices.Sorted(slices.Values(chosen))))
		}
	}
}

func TestASweepListsEveryChoice(t *testing.T) {
	t.Parallel()
	some, capped := 0, 0
	for seed := range uint64(80) {
		o, barrels := instance(seed+60_000, 12)
		if seed%2 == 1 {
			o.MaxMembers = 2
		}
		p, err := newProblem(&o, barrels)
		require.NoError(t, err)
		all := make([]int, len(barrels))
		for j := range all {
			all[j] = j
		}
		want := everyChoice(p, none)
		var got []string
		s := newSweep(p, all, listTried, swept(p, none, &got))
		require.True(t, s.run())
		slices.Sort(got)
		require.Equal(t, want, got, "seed %d", seed)

		// By what the relaxation proves most sets are left out, and none that costs less than the limit.
		l := p.leaf(p.whole(all, nil)).l
		if len(want) == 0 || l.solve() != solved {
			continue
		}
		some++
		capped += int(boolean(p.members > 0))
		plan, err := Choose(o, barrels, Options{})
		require.NoError(t, err)
		limit := int64(plan.Cost) + 1 + int64(seed)*100
		got = nil
		priced, ok := l.sweep(p, limit, listTried, swept(p, limit, &got))
		require.True(t, ok)
		require.True(t, priced.run())
		slices.Sort(got)
		require.Equal(t, everyChoice(p, limit), got, "seed %d", seed)
		require.LessOrEqual(t, s.left, priced.left, "seed %d", seed)

		few := newSweep(p, all, 3, func([]int) {})
		require.False(t, few.run(), "three tries are not enough")
	}
	require.Greater(t, some, 15)
	require.Greater(t, capped, 3)
}

// Two orders filled again by listing cost what the cheapest two choices with no barrel in common cost.
func TestAPairIsFilledAtTheLeastCost(t *testing.T) {
	t.Parallel()
	tried := 0
	for seed := range uint64(60) {
		first, barrels := instance(seed+70_000, 12)
		second, _ := instance(seed+80_000, 12)
		second.ID = "T-2"
		m, err := newMany([]Order{first, second}, barrels, Options{Nodes: 5_000})
		require.NoError(t, err)
		m.run()
		if m.cost == none {
			continue
		}
		m.settle()
		m.nodes = m.granted
		m.pair(1, 0, 0)
		keepsApart(t, m)
		want := m.list(listTried)
		least := int64(none)
		for _, x := range want[0] {
			for _, y := range want[1] {
				if !slices.ContainsFunc(x.barrels, func(b int) bool { return slices.Contains(y.barrels, b) }) {
					least = min(least, x.cost+y.cost)
				}
			}
		}
		require.Equal(t, least, m.cost, "seed %d", seed)
		tried++
	}
	require.Greater(t, tried, 10)
}

func keepsApart(t *testing.T, m *many) {
	t.Helper()
	used := map[int]bool{}
	for o, chosen := range m.best {
		require.True(t, m.problems[o].fits(chosen))
		for _, b := range chosen {
			require.False(t, used[b])
			used[b] = true
		}
	}
	require.Equal(t, m.total(m.best), m.cost)
}
