package wire_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/wire"
)

func TestRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-1<<62, 1<<62).Draw(t, "n")
		m, err := wire.MassFromProto(wire.MassToProto(quantity.Mass(n), quantity.KG), quantity.KG)
		require.NoError(t, err)
		require.Equal(t, quantity.Mass(n), m)
		a, err := wire.MoneyFromProto(wire.MoneyToProto(quantity.Money(n), "USD"), "USD")
		require.NoError(t, err)
		require.Equal(t, quantity.Money(n), a)
		p, err := wire.PriceFromProto(wire.PriceToProto(quantity.Price(n), "USD", quantity.LB), "USD", quantity.LB)
		require.NoError(t, err)
		require.Equal(t, quantity.Price(n), p)
	})
}

func TestDecimalStrings(t *testing.T) {
	t.Parallel()
	require.Equal(t, "642.5", wire.MassToProto(642_500, quantity.LB).GetValue())
	require.Equal(t, "1521.84", wire.MoneyToProto(152_184, "USD").GetAmount())
	require.Equal(t, "1.89333", wire.PriceToProto(1_893_330, "USD", quantity.LB).GetAmount())
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	mass := func(p *typev1.Mass) error { _, err := wire.MassFromProto(p, quantity.LB); return err }
	money := func(p *typev1.Money) error { _, err := wire.MoneyFromProto(p, "USD"); return err }
	entered := func(amount string) error {
		_, err := wire.EnteredFromProto(&typev1.Money{Amount: amount, CurrencyCode: "USD"}, "USD")
		return err
	}
	require.NoError(t, entered(wire.MostEntered.String()))
	require.NoError(t, entered((-wire.MostEntered).String()))
	price := func(p *typev1.Price) error { _, err := wire.PriceFromProto(p, "USD", quantity.LB); return err }
	cases := []struct {
		name, field, message string
		err                  error
	}{
		{"no mass", "", "the mass is missing", mass(nil)},
		{"other unit", "unit", `the unit is "KG", but this cooperative weighs in LB`, mass(&typev1.Mass{Value: "1.0", Unit: "KG"})},
		{"four digits", "value", `"642.5555" has more than 3 digits after the point`, mass(&typev1.Mass{Value: "642.5555", Unit: "LB"})},
		{"no amount", "", "the amount is missing", money(nil)},
		{"other currency", "currency_code", `the currency is "CAD", but this cooperative pays in USD`, money(&typev1.Money{Amount: "1.00", CurrencyCode: "CAD"})},
		{"empty amount", "amount", "the number is missing", money(&typev1.Money{CurrencyCode: "USD"})},
		{"entered too large", "amount", "is 1000000000.01, must be at most 1000000000.00; were digits typed twice?", entered("1000000000.01")},
		{"entered too far below", "amount", "is -999999999999999.99, must be at least -1000000000.00; were digits typed twice?", entered("-999999999999999.99")},
		{"entered is no number", "amount", `"1e3" is not a plain decimal number such as 12.5`, entered("1e3")},
		{"no price", "", "the price is missing", price(nil)},
		{"price in another currency", "currency_code", `the currency is "", but this cooperative pays in USD`, price(&typev1.Price{Amount: "1.9", PerUnit: "LB"})},
		{"price per other unit", "per_unit", `the price is per "KG", but this cooperative prices per LB`, price(&typev1.Price{Amount: "1.9", CurrencyCode: "USD", PerUnit: "KG"})},
		{"price with an exponent", "amount", `"1e3" is not a plain decimal number such as 12.5`, price(&typev1.Price{Amount: "1e3", CurrencyCode: "USD", PerUnit: "LB"})},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			require.EqualError(t, c.err, c.message)
			var fault *wire.Fault
			require.ErrorAs(t, c.err, &fault)
			require.Equal(t, c.field, fault.Field())
			require.Equal(t, "FIELD_INVALID", fault.Reason())
		})
	}
}

func TestInBuildsThePath(t *testing.T) {
	t.Parallel()
	_, err := wire.MassFromProto(&typev1.Mass{Value: "1.0001", Unit: "LB"}, quantity.LB)
	err = wire.In("lines", wire.In("gross", err))
	var fault *wire.Fault
	require.ErrorAs(t, err, &fault)
	require.Equal(t, "lines.gross.value", fault.Field())
	require.Equal(t, map[string]string{"field": "lines.gross.value"}, fault.Metadata())
	require.ErrorIs(t, err, quantity.ErrDigits)
	require.NoError(t, wire.In("gross", nil))
}
