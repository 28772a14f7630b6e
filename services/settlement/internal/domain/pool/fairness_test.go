package pool_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

// of makes a result of so many members with one, five, twenty and a hundred barrels.
func of(one, few, some, many int) (members []pool.MemberResult) {
	for band, n := range []int{one, few, some, many} {
		barrels := []int{1, 5, 20, 100}[band]
		for i := range n {
			members = append(members, pool.MemberResult{
				Member: fmt.Sprintf("members/M-%d%03d", band, i), Barrels: barrels, Payable: quantity.Mass(barrels) * 640_000, Value: quantity.Money(barrels) * 960_00,
			})
		}
	}
	return members
}

func TestSmallGroupsAreNotShown(t *testing.T) {
	t.Parallel()
	groups := pool.Groups(of(3, 12, 9, 6))
	require.Equal(t, pool.Group{Description: "1 barrel", Suppressed: true}, groups[0])
	require.True(t, groups[3].Suppressed, "the smallest of the others too: the totals less what is shown would be the three")
	require.Equal(t, 12, groups[1].Members)
	average, err := groups[1].Average()
	require.NoError(t, err)
	require.Equal(t, "1.50", average.String())
	for _, g := range pool.Groups(of(5, 6, 0, 7)) {
		require.False(t, g.Suppressed)
	}
}

func TestNoFewerThanFiveCanBeCalculated(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.SliceOfN(rapid.IntRange(0, 8), 4, 4).Draw(t, "members")
		all, shown := n[0]+n[1]+n[2]+n[3], 0
		hidden := false
		for _, g := range pool.Groups(of(n[0], n[1], n[2], n[3])) {
			require.True(t, g.Members == 0 || g.Members >= 5)
			shown += g.Members
			hidden = hidden || g.Suppressed
		}
		rest := all - shown
		require.Equal(t, hidden, rest > 0)
		require.True(t, rest == 0 || rest >= 5 || shown == 0, "%d members are the totals less what is shown", rest)
	})
}
