package quantity_test

import (
	"math"
	"testing"

	"github.com/cockroachdb/apd/v3"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
)

func TestTimes(t *testing.T) {
	t.Parallel()
	cases := []struct{ price, mass, want string }{
		{"1.89333", "642.5", "1216.46"},
		{"1.90", "600.0", "1140.00"},
		{"0.01", "0.5", "0.01"},
		{"0.01", "0.499", "0.00"},
		{"0.01", "-0.5", "-0.01"},
		{"0.000001", "0.001", "0.00"},
	}
	for _, c := range cases {
		p, err := quantity.ParsePrice(c.price)
		require.NoError(t, err)
		m, err := quantity.ParseMass(c.mass)
		require.NoError(t, err)
		got, err := p.Times(m)
		require.NoError(t, err)
		require.Equal(t, c.want, got.String(), "%s × %s", c.price, c.mass)
	}
	_, err := quantity.Price(math.MaxInt64).Times(quantity.Mass(math.MaxInt64))
	require.ErrorIs(t, err, quantity.ErrRange)
}

// TestTimesAgreesWithDecimalLibrary asks a decimal library that shares no code with ours.
func TestTimesAgreesWithDecimalLibrary(t *testing.T) {
	t.Parallel()
	ctx := apd.BaseContext.WithPrecision(60)
	ctx.Rounding = apd.RoundHalfUp
	rapid.Check(t, func(t *rapid.T) {
		p := quantity.Price(rapid.Int64Range(-1e12, 1e12).Draw(t, "price"))
		m := quantity.Mass(rapid.Int64Range(-1e12, 1e12).Draw(t, "mass"))
		got, err := p.Times(m)
		require.NoError(t, err)
		require.Equal(t, product(t, ctx, p.String(), m.String(), -2), apdString(t, got.String()))
	})
}

func TestPercentOfAgreesWithDecimalLibrary(t *testing.T) {
	t.Parallel()
	ctx := apd.BaseContext.WithPrecision(60)
	ctx.Rounding = apd.RoundHalfUp
	rapid.Check(t, func(t *rapid.T) {
		rate := quantity.Percent(rapid.Int64Range(-200_00, 200_00).Draw(t, "rate"))
		amount := quantity.Money(rapid.Int64Range(-1e15, 1e15).Draw(t, "amount"))
		got, err := rate.Of(int64(amount))
		require.NoError(t, err)
		hundredth := product(t, ctx, rate.String(), "0.01", -4)
		require.Equal(t, product(t, ctx, hundredth, amount.String(), -2), apdString(t, quantity.Money(got).String()))
	})
}

func product(t require.TestingT, ctx *apd.Context, a, b string, exponent int32) string {
	x, _, err := apd.NewFromString(a)
	require.NoError(t, err)
	y, _, err := apd.NewFromString(b)
	require.NoError(t, err)
	var z apd.Decimal
	_, err = ctx.Mul(&z, x, y)
	require.NoError(t, err)
	_, err = ctx.Quantize(&z, &z, exponent)
	require.NoError(t, err)
	return apdString(t, z.Text('f'))
}

// apdString drops the minus of a zero, which apd keeps and a statement does not print.
func apdString(t require.TestingT, s string) string {
	d, _, err := apd.NewFromString(s)
	require.NoError(t, err)
	if d.IsZero() {
		d.Negative = false
	}
	return d.Text('f')
}

func TestReversalMirrors(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := quantity.Price(rapid.Int64Range(0, 1e9).Draw(t, "price"))
		m := quantity.Mass(rapid.Int64Range(0, 1e9).Draw(t, "mass"))
		paid, err := p.Times(m)
		require.NoError(t, err)
		reversed, err := p.Times(-m)
		require.NoError(t, err)
		require.Equal(t, -paid, reversed)
	})
}
