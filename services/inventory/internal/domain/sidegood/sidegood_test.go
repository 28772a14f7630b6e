package sidegood_test

import (
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/sidegood"
	"barrelhead.example/services/kit/quantity"
)

func TestEachGoodHasItsOwnUnit(t *testing.T) {
	t.Parallel()
	mass := quantity.Mass(12_500)
	for _, c := range []struct {
		good   sidegood.Good
		pieces int64
		mass   *quantity.Mass
		wrong  []string
	}{
		{sidegood.CombSection, 24, nil, nil},
		{sidegood.ChunkHoney, 12, nil, nil},
		{sidegood.Beeswax, 0, &mass, nil},
		{sidegood.Beeswax, 3, &mass, []string{"pieces"}},
		{sidegood.Cappings, 0, nil, []string{"mass"}},
		{sidegood.CutComb, 4, &mass, []string{"mass"}},
		{sidegood.CutComb, 0, nil, []string{"pieces"}},
	} {
		_, faults := sidegood.Read(c.good, sidegood.Made, c.pieces, c.mass)
		require.Equal(t, c.wrong, slices.Sorted(maps.Keys(faults)), c.good)
	}
	require.Equal(t, []string{"1,024 pieces", "1 piece", "12 jars", "1,012.5 lb"}, []string{
		sidegood.CutComb.Say(1_024, quantity.LB), sidegood.CutComb.Say(1, quantity.LB), sidegood.ChunkHoney.Say(12, quantity.LB), sidegood.Beeswax.Say(1_012_500, quantity.LB),
	})
}

func TestWhatLeavesIsThereAndSaysForWhom(t *testing.T) {
	t.Parallel()
	e, _ := sidegood.Read(sidegood.CombSection, sidegood.Sold, 24, nil)
	require.EqualValues(t, -24, e.Quantity)
	require.NoError(t, e.Fits(24, quantity.LB))
	require.ErrorContains(t, e.Fits(23, quantity.LB), "there are 23 pieces of comb section of crop year 0, not 24 pieces")
	require.Len(t, e.Parties(), 1)
	e.Customer = "North Mill Bakery"
	require.Empty(t, e.Parties())
	e.Member = "members/M-0001"
	require.Len(t, e.Parties(), 1)
	in, _ := sidegood.Read(sidegood.CombSection, sidegood.Received, 24, nil)
	require.EqualValues(t, 24, in.Quantity)
	require.Len(t, in.Parties(), 1, "who brought it is asked for")
}
