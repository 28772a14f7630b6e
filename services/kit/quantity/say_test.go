package quantity_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
)

func TestMassIsSaidAsPeopleWriteIt(t *testing.T) {
	t.Parallel()
	for want, m := range map[string]quantity.Mass{
		"0.0 lb": 0, "0.001 lb": 1, "642.5 lb": 642_500, "999.999 lb": 999_999, "1,000.0 lb": 1_000_000, "15,391.5 lb": 15_391_500,
		"1,234,567.891 lb": 1_234_567_891, "-5.0 lb": -5_000, "-999.0 lb": -999_000, "-1,200.0 lb": -1_200_000,
		"9,223,372,036,854,775.807 lb": math.MaxInt64,
	} {
		require.Equal(t, want, m.Say(quantity.LB))
	}
	require.Equal(t, "1,200.0 kg", quantity.Mass(1_200_000).Say(quantity.KG))
	require.Equal(t, "1,200.0", quantity.Mass(1_200_000).Say(""))
}

func TestNumbersOfThingsAreSaidAsPeopleWriteThem(t *testing.T) {
	t.Parallel()
	for want, n := range map[string]int64{
		"0 jars": 0, "1 jar": 1, "2 jars": 2, "999 jars": 999, "1,000 jars": 1000, "12,400 jars": 12_400, "10,000,000 jars": 10_000_000,
	} {
		require.Equal(t, want, quantity.Count(n, "jar"))
	}
}

// TestGroupedChangesNoDigit: without the commas it is the number it was, and between two commas stand three digits.
func TestGroupedChangesNoDigit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		text := quantity.FormatFixed(rapid.Int64().Draw(t, "v"), rapid.IntRange(0, 6).Draw(t, "digits"), 0)
		said := quantity.Grouped(text)
		require.Equal(t, text, strings.ReplaceAll(said, ",", ""))
		require.Regexp(t, `^-?[0-9]{1,3}(,[0-9]{3})*([.][0-9]+)?$`, said)
	})
}
