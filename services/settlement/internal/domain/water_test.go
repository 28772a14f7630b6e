package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// The factor is the grain water-shrink factor of Virginia Tech, Constant Moisture Grain Marketing, 2001; the weights are
// worked from it for a 640-lb barrel and a base of 18.6 %.
func TestPayableWeightBySolidsBasis(t *testing.T) {
	t.Parallel()
	for water, want := range map[string]string{
		"17.8": "640.0", "18.6": "640.0", "18.9": "637.6", "19.2": "635.3", "20.0": "629.0", "21.0": "621.1",
	} {
		rule := domain.MoistureRule{Base: percent(t, "18.6")}
		got, err := rule.Payable(mass(t, "640.0"), percent(t, water))
		require.NoError(t, err)
		require.Equal(t, want, got.String(), "at %s %%", water)
	}
}

func TestDrierHoneyWouldWeighMoreWithoutTheCap(t *testing.T) {
	t.Parallel()
	got, err := domain.SolidsBasis(mass(t, "640.0"), percent(t, "17.8"), percent(t, "18.6"))
	require.NoError(t, err)
	require.Equal(t, "646.3", got.String())
}

func TestTenthsAboveTheBase(t *testing.T) {
	t.Parallel()
	rule := domain.MoistureRule{Base: percent(t, "18.6")}
	for water, want := range map[string]int64{"12.0": 0, "18.6": 0, "18.61": 1, "18.7": 1, "18.71": 2, "19.2": 6} {
		require.Equal(t, want, rule.Tenths(percent(t, water)), "at %s %%", water)
	}
}

func TestWetterNeverPaysMore(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rule := domain.MoistureRule{Base: quantity.Percent(rapid.Int64Range(1200, 2500).Draw(t, "base"))}
		net := quantity.Mass(rapid.Int64Range(0, 4_000_000).Draw(t, "net"))
		dry := quantity.Percent(rapid.Int64Range(1200, 2500).Draw(t, "dry"))
		wet := dry + quantity.Percent(rapid.Int64Range(0, 500).Draw(t, "more"))
		fromDry, err := rule.Payable(net, dry)
		require.NoError(t, err)
		fromWet, err := rule.Payable(net, wet)
		require.NoError(t, err)
		require.LessOrEqual(t, fromWet, fromDry)
		require.LessOrEqual(t, fromDry, net)
		require.Positive(t, int64(fromWet)+1)
	})
}

func TestShortDivisionEqualsTheRuleOfTheHouse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		net := quantity.Mass(rapid.Int64Range(-1<<33, 1<<33).Draw(t, "net"))
		water := quantity.Percent(rapid.Int64Range(0, 9900).Draw(t, "water"))
		base := quantity.Percent(rapid.Int64Range(0, 9900).Draw(t, "base"))
		got, err := domain.SolidsBasis(net, water, base)
		require.NoError(t, err)
		tenths, err := quantity.MulDiv(int64(net), int64(100_00-water), int64(100_00-base)*100)
		require.NoError(t, err)
		require.Equal(t, quantity.Mass(tenths*100), got)
	})
}
