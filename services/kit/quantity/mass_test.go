package quantity_test

import (
	"testing"

	"github.com/jackc/pgx/v5/pgtype"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
)

func TestConvertMass(t *testing.T) {
	t.Parallel()
	cases := []struct {
		in       string
		from, to quantity.Unit
		want     string
	}{
		{"1", quantity.LB, quantity.KG, "0.454"},
		{"1000", quantity.LB, quantity.KG, "453.592"},
		{"100000", quantity.LB, quantity.KG, "45359.237"},
		{"45359.237", quantity.KG, quantity.LB, "100000.0"},
		{"1", quantity.KG, quantity.LB, "2.205"},
		{"-1", quantity.KG, quantity.LB, "-2.205"},
		{"642.5", quantity.LB, quantity.LB, "642.5"},
	}
	for _, c := range cases {
		m, err := quantity.ParseMass(c.in)
		require.NoError(t, err)
		require.Equal(t, c.want, quantity.ConvertMass(m, c.from, c.to).String(), "%s %s", c.in, c.from)
	}
}

// A kilogram is more than a pound, so a pound figure holds enough digits to give every thousandth of a kilogram back.
func TestKilogramsSurviveThePound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := quantity.Mass(rapid.Int64Range(-1e15, 1e15).Draw(t, "kg"))
		pounds := quantity.ConvertMass(m, quantity.KG, quantity.LB)
		require.Equal(t, m, quantity.ConvertMass(pounds, quantity.LB, quantity.KG))
	})
}

func TestUnits(t *testing.T) {
	t.Parallel()
	u, err := quantity.ParseUnit("KG")
	require.NoError(t, err)
	require.Equal(t, quantity.KG, u)
	require.Equal(t, []string{"kg", "lb"}, []string{u.Word(), quantity.LB.Word()})
	_, err = quantity.ParseUnit("lb")
	require.EqualError(t, err, `unit "lb" is unknown: use LB or KG`)
	require.PanicsWithError(t, `convert mass: from unit "" to unit "KG" is unknown`, func() {
		quantity.ConvertMass(1, "", quantity.KG)
	})
}

// The driver knows the decimal form of a String method too; a bigint column must get the count and not that.
func TestBigintColumnsHoldTheCount(t *testing.T) {
	t.Parallel()
	m := pgtype.NewMap()
	for _, format := range []int16{pgtype.TextFormatCode, pgtype.BinaryFormatCode} {
		raw, err := m.Encode(pgtype.Int8OID, format, quantity.Mass(642_500), nil)
		require.NoError(t, err)
		var count int64
		require.NoError(t, m.Scan(pgtype.Int8OID, format, raw, &count))
		require.Equal(t, int64(642_500), count)
		var back quantity.Mass
		require.NoError(t, m.Scan(pgtype.Int8OID, format, raw, &back))
		require.Equal(t, quantity.Mass(642_500), back)
	}
}
