package quantity_test

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
)

func TestMulDiv(t *testing.T) {
	t.Parallel()
	cases := []struct {
		a, b, c, want int64
		err           error
	}{
		{1, 1, 2, 1, nil},
		{-1, 1, 2, -1, nil},
		{1, -1, -2, 1, nil},
		{1, 1, 3, 0, nil},
		{2, 1, 3, 1, nil},
		{5, 1, 2, 3, nil},
		{-5, 1, 2, -3, nil},
		{math.MaxInt64, math.MaxInt64, math.MaxInt64, math.MaxInt64, nil},
		{math.MaxInt64, 2, 4, 1 << 62, nil},
		{math.MinInt64, 1, -1, 0, quantity.ErrRange},
		{math.MinInt64, 1, 2, -1 << 62, nil},
		{math.MaxInt64, 2, 1, 0, quantity.ErrRange},
		{math.MaxInt64, math.MaxInt64, 1, 0, quantity.ErrRange},
		{3, 4, 0, 0, quantity.ErrDivideByZero},
	}
	for _, c := range cases {
		got, err := quantity.MulDiv(c.a, c.b, c.c)
		require.ErrorIs(t, err, c.err)
		require.Equal(t, c.want, got, "%d × %d / %d", c.a, c.b, c.c)
	}
}

// bigMulDiv is the same rule in arbitrary precision: floor((2|ab| + |c|) / 2|c|), then the sign.
func bigMulDiv(a, b, c int64) *big.Int {
	num := new(big.Int).Mul(big.NewInt(a), big.NewInt(b))
	den := big.NewInt(c)
	sign := num.Sign() * den.Sign()
	num.Abs(num).Lsh(num, 1).Add(num, den.Abs(den))
	q := num.Quo(num, den.Lsh(den, 1))
	return q.Mul(q, big.NewInt(int64(sign)))
}

func checkMulDiv(t require.TestingT, a, b, c int64) {
	want := bigMulDiv(a, b, c)
	got, err := quantity.MulDiv(a, b, c)
	if want.CmpAbs(big.NewInt(math.MaxInt64)) > 0 {
		require.ErrorIs(t, err, quantity.ErrRange)
		return
	}
	require.NoError(t, err)
	require.Equal(t, want.String(), big.NewInt(got).String())
}

func TestMulDivAgreesWithBigIntegers(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Int64().Filter(func(c int64) bool { return c != 0 }).Draw(t, "c")
		checkMulDiv(t, rapid.Int64().Draw(t, "a"), rapid.Int64().Draw(t, "b"), c)
	})
}

func FuzzMulDiv(f *testing.F) {
	f.Add(int64(1), int64(1), int64(2))
	f.Add(int64(math.MinInt64), int64(math.MinInt64), int64(math.MinInt64))
	f.Add(int64(math.MaxInt64), int64(3), int64(6))
	f.Fuzz(func(t *testing.T, a, b, c int64) {
		if c == 0 {
			_, err := quantity.MulDiv(a, b, c)
			require.ErrorIs(t, err, quantity.ErrDivideByZero)
			return
		}
		checkMulDiv(t, a, b, c)
	})
}

func TestSumAgreesWithBigIntegers(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Int64(), 0, 6).Draw(t, "values")
		got, err := quantity.Sum(values...)
		want := new(big.Int)
		fits := true
		for _, v := range values {
			want.Add(want, big.NewInt(v))
			fits = fits && want.IsInt64()
		}
		if !fits {
			require.ErrorIs(t, err, quantity.ErrRange)
			return
		}
		require.NoError(t, err)
		require.Equal(t, want.Int64(), got)
	})
}

func TestSumNeverWrapsRound(t *testing.T) {
	t.Parallel()
	_, err := quantity.Sum(quantity.Money(math.MaxInt64), 1)
	require.EqualError(t, err, "the sum of 2 numbers is too large")
	_, err = quantity.Sum(quantity.Money(math.MinInt64), -1)
	require.ErrorIs(t, err, quantity.ErrRange)
	total, err := quantity.Sum[quantity.Mass]()
	require.NoError(t, err)
	require.Zero(t, total)
}
