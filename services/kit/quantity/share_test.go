package quantity_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
)

func TestShare(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name    string
		total   quantity.Money
		weights []int64
		want    []quantity.Money
	}{
		{"tie goes to the lower index", 100, []int64{1, 1, 1}, []quantity.Money{34, 33, 33}},
		{"two odd cents", 200, []int64{1, 1, 1}, []quantity.Money{67, 67, 66}},
		{"mirrored", -100, []int64{1, 1, 1}, []quantity.Money{-34, -33, -33}},
		{"largest remainder first", 10, []int64{1, 2, 3}, []quantity.Money{2, 3, 5}},
		{"zero weight gets nothing", 101, []int64{0, 1, 0, 1}, []quantity.Money{0, 51, 0, 50}},
		{"nothing to share", 0, []int64{3, 4}, []quantity.Money{0, 0}},
		{"one member", 7, []int64{9}, []quantity.Money{7}},
		{"huge weights", math.MaxInt64, []int64{math.MaxInt64 - 1, 1}, []quantity.Money{math.MaxInt64 - 1, 1}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := quantity.Share(c.total, c.weights)
			require.NoError(t, err)
			require.Equal(t, c.want, got)
		})
	}
}

func TestShareRefusals(t *testing.T) {
	t.Parallel()
	share := func(total quantity.Money, weights ...int64) error {
		_, err := quantity.Share(total, weights)
		return err
	}
	require.ErrorIs(t, share(1), quantity.ErrNoWeights)
	require.ErrorIs(t, share(1, 0, 0), quantity.ErrNoWeights)
	require.ErrorIs(t, share(1, 2, -1), quantity.ErrNegativeWeight)
	require.ErrorIs(t, share(1, math.MaxInt64, 1), quantity.ErrRange)
	require.ErrorIs(t, share(math.MinInt64, 1), quantity.ErrRange)
	require.EqualError(t, share(5, 1, -2), "share 5: a weight is negative: -2")
}

var (
	totals  = rapid.Int64Range(-1e15, 1e15)
	weights = rapid.SliceOfN(rapid.Int64Range(0, 1e12), 1, 40).Filter(func(w []int64) bool {
		sum, err := quantity.Sum(w...)
		return err == nil && sum > 0
	})
)

func TestSharesSumAndStayWithinOneUnit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		total := quantity.Money(totals.Draw(t, "total"))
		w := weights.Draw(t, "weights")
		portions, err := quantity.Portions(total, w)
		require.NoError(t, err)
		all, err := quantity.Sum(w...)
		require.NoError(t, err)
		var sum quantity.Money
		for i, p := range portions {
			sum += p.Amount
			towardsZero := new(big.Int).Mul(big.NewInt(int64(total)), big.NewInt(w[i]))
			towardsZero.Quo(towardsZero, big.NewInt(all))
			beyond := int64(p.Amount) - towardsZero.Int64()
			if p.Odd {
				require.Equal(t, int64(1), beyond*int64(sign(total)))
			} else {
				require.Zero(t, beyond)
			}
			require.False(t, p.Odd && w[i] == 0, "a member without honey got the odd cent")
		}
		require.Equal(t, total, sum)
	})
}

func sign(m quantity.Money) int {
	if m < 0 {
		return -1
	}
	return 1
}

func TestSharesOfAReversalMirror(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		total := quantity.Money(totals.Draw(t, "total"))
		w := weights.Draw(t, "weights")
		there, err := quantity.Share(total, w)
		require.NoError(t, err)
		back, err := quantity.Share(-total, w)
		require.NoError(t, err)
		for i := range there {
			require.Equal(t, there[i], -back[i])
		}
	})
}

func TestEqualWeightsAreServedInOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		total := quantity.Money(rapid.Int64Range(0, 1e9).Draw(t, "total"))
		w := rapid.SliceOfN(rapid.Int64Range(1, 3), 2, 30).Draw(t, "weights")
		got, err := quantity.Share(total, w)
		require.NoError(t, err)
		for i := range w {
			for j := i + 1; j < len(w); j++ {
				if w[i] == w[j] {
					require.GreaterOrEqual(t, got[i], got[j])
				}
				if w[i] > w[j] {
					require.GreaterOrEqual(t, got[i]+1, got[j])
				}
			}
		}
	})
}
