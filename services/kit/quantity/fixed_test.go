package quantity_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
)

func TestParseFixed(t *testing.T) {
	t.Parallel()
	cases := []struct {
		in     string
		digits int
		want   int64
		err    error
	}{
		{"642.5", 3, 642_500, nil},
		{"642", 3, 642_000, nil},
		{"-0.001", 3, -1, nil},
		{"-0", 3, 0, nil},
		{"007", 0, 7, nil},
		{"9223372036854775.807", 3, math.MaxInt64, nil},
		{"-9223372036854775.807", 3, -math.MaxInt64, nil},
		{"-9223372036854775.808", 3, 0, quantity.ErrRange},
		{"9223372036854775808", 0, 0, quantity.ErrRange},
		{"1.0000", 3, 0, quantity.ErrDigits},
		{"1.0", 0, 0, quantity.ErrDigits},
		{"", 3, 0, quantity.ErrSyntax},
		{"-", 3, 0, quantity.ErrSyntax},
		{".5", 3, 0, quantity.ErrSyntax},
		{"5.", 3, 0, quantity.ErrSyntax},
		{"+5", 3, 0, quantity.ErrSyntax},
		{"--5", 3, 0, quantity.ErrSyntax},
		{"1e3", 3, 0, quantity.ErrSyntax},
		{"1,5", 3, 0, quantity.ErrSyntax},
		{" 1", 3, 0, quantity.ErrSyntax},
		{"1.-5", 3, 0, quantity.ErrSyntax},
		{"1_000", 3, 0, quantity.ErrSyntax},
		{"NaN", 3, 0, quantity.ErrSyntax},
		{"٣", 3, 0, quantity.ErrSyntax},
	}
	for _, c := range cases {
		t.Run(c.in, func(t *testing.T) {
			t.Parallel()
			got, err := quantity.ParseFixed(c.in, c.digits)
			require.ErrorIs(t, err, c.err)
			require.Equal(t, c.want, got)
		})
	}
}

func TestParseErrorsAreForPeople(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"":                     "the number is missing",
		"642.5555":             `"642.5555" has more than 3 digits after the point`,
		"12 lb":                `"12 lb" is not a plain decimal number such as 12.5`,
		"99999999999999999999": `"99999999999999999999" is too large`,
	} {
		_, err := quantity.ParseMass(in)
		require.EqualError(t, err, want)
	}
}

func TestStrings(t *testing.T) {
	t.Parallel()
	require.Equal(t, "642.5", quantity.Mass(642_500).String())
	require.Equal(t, "642.0", quantity.Mass(642_000).String())
	require.Equal(t, "-0.005", quantity.Mass(-5).String())
	require.Equal(t, "-9223372036854775.808", quantity.Mass(math.MinInt64).String())
	require.Equal(t, "18.65", quantity.Percent(18_65).String())
	require.Equal(t, "18.6", quantity.Percent(18_60).String())
	require.Equal(t, "1.89333", quantity.Price(1_893_330).String())
	require.Equal(t, "1.90", quantity.Price(1_900_000).String())
	require.Equal(t, "1521.84", quantity.Money(152_184).String())
	require.Equal(t, "-3.00", quantity.Money(-300).String())
	require.Equal(t, "0.00", quantity.Money(0).String())
	require.Equal(t, "7", quantity.FormatFixed(7, 0, 0))
	require.Equal(t, "0", quantity.FormatFixed(0, 0, 0))
	require.Equal(t, "-9.223372036854775808", quantity.FormatFixed(math.MinInt64, 18, 0))
	require.Equal(t, "net 642.5", string(quantity.Mass(642_500).Append([]byte("net "))))
	require.Equal(t, "-0.05", string(quantity.Money(-5).Append(nil)))
}

func TestPrintedNumbersParseBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Int64Range(-math.MaxInt64, math.MaxInt64).Draw(t, "n")
		digits := rapid.IntRange(0, 9).Draw(t, "digits")
		atLeast := rapid.IntRange(0, digits).Draw(t, "atLeast")
		got, err := quantity.ParseFixed(quantity.FormatFixed(n, digits, atLeast), digits)
		require.NoError(t, err)
		require.Equal(t, n, got)
	})
}

type record struct {
	Gross quantity.Mass    `json:"gross"`
	Water quantity.Percent `json:"water"`
	Rate  quantity.Price   `json:"rate"`
	Paid  quantity.Money   `json:"paid"`
}

func TestJSONCarriesDecimals(t *testing.T) {
	t.Parallel()
	want := record{Gross: 642_500, Water: 18_65, Rate: 1_893_330, Paid: 152_184}
	raw, err := json.Marshal(want)
	require.NoError(t, err)
	require.JSONEq(t, `{"gross":"642.5","water":"18.65","rate":"1.89333","paid":"1521.84"}`, string(raw))
	var got record
	require.NoError(t, json.Unmarshal(raw, &got))
	require.Equal(t, want, got)
	require.ErrorIs(t, json.Unmarshal([]byte(`{"paid":"1.005"}`), &got), quantity.ErrDigits)
}

func FuzzParseFixed(f *testing.F) {
	for _, s := range []string{"642.5", "-0.001", "1e3", "", "9223372036854775.808", "00.10"} {
		f.Add(s, 3)
	}
	f.Fuzz(func(t *testing.T, s string, digits int) {
		digits = min(max(digits, 0), 9)
		v, err := quantity.ParseFixed(s, digits)
		if err != nil {
			var refused *quantity.ParseError
			require.ErrorAs(t, err, &refused)
			return
		}
		again, err := quantity.ParseFixed(quantity.FormatFixed(v, digits, 0), digits)
		require.NoError(t, err)
		require.Equal(t, v, again)
	})
}
