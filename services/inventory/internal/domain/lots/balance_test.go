package lots_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
)

func TestABalanceIsOverItsLimitByTheLeastThatIsMore(t *testing.T) {
	t.Parallel()
	b := lots.Balance{
		Received: 1_000_000, PassedOn: 100_000, Packed: 880_000, Limit: lots.LotLimit,
		Losses: map[string]quantity.Mass{"FLUSH": 15_000, "UNEXPLAINED": 5_000},
	}
	require.Zero(t, b.Difference())
	require.Equal(t, "0.5", b.Share().String())
	require.False(t, b.Over(), "0.50 percent is allowed")
	yield, known := b.Yield()
	require.True(t, known)
	require.Equal(t, "97.78", yield.String())

	b.Losses["UNEXPLAINED"]++
	b.Packed--
	require.Zero(t, b.Difference())
	require.True(t, b.Over())
	b.Packed--
	require.Equal(t, "0.001", b.Difference().String(), "what does not add up is seen")

	found := lots.Balance{Received: 100_000, Packed: 101_000, Open: -1_000, Limit: lots.LotLimit}
	require.Zero(t, found.Difference())
	require.True(t, found.Over(), "too much is as strange as too little")
	_, known = lots.Balance{Received: 100_000, Closing: 100_000}.Yield()
	require.False(t, known)
}
