package line_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/label"
	"barrelhead.example/services/inventory/internal/domain/line"
	"barrelhead.example/services/inventory/internal/domain/netcontent"
)

func TestALineThatRanIsClearedBeforeItRunsAgain(t *testing.T) {
	t.Parallel()
	require.NoError(t, line.Ready("L1", line.Before{}))
	require.NoError(t, line.Ready("L1", line.Before{LotCode: "FC26258T1015", Cleared: true}))
	require.ErrorContains(t, line.Ready("L1", line.Before{LotCode: "FC26258T1015"}), "line L1 was not cleared since lot FC26258T1015 ran on it")
}

func TestTheLabelSaysWhatAJarHolds(t *testing.T) {
	t.Parallel()
	pound := label.Label{ID: "CLOVER-1LB-1", Face: label.Face{Ounces: 16_00, Grams: 454_0}}
	for unit, want := range map[netcontent.Unit]string{netcontent.Gram: "454.0", netcontent.Pound: "1.0"} {
		got, err := line.Declared(pound, unit)
		require.NoError(t, err)
		require.Equal(t, want, got.String())
	}
	third, err := line.Declared(label.Label{Face: label.Face{Ounces: 5_33, Grams: 151_1}}, netcontent.Pound)
	require.NoError(t, err)
	require.Equal(t, "0.3331", third.String(), "5.33 oz are 0.333125 lb")
	_, err = line.Declared(label.Label{ID: "BLANK"}, netcontent.Gram)
	require.ErrorContains(t, err, "has no net content")
}

// NIST Handbook 133, Table 2-5: of one pound a single package may be short by 0.044 lb.
func TestARunIsStoppedBelowTheLabelAndBeyondTheVariation(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		weights         []netcontent.Weight
		stopped         bool
		average, lowest string
	}{
		{[]netcontent.Weight{1_0000, 1_0000, 1_0000}, false, "1.0", "1.0"},
		{[]netcontent.Weight{1_0000, 1_0000, 9999}, true, "1.0", "0.9999"}, // two thirds of a ten-thousandth below, rounded or not
		{[]netcontent.Weight{1_0500, 9560, 1_0000}, false, "1.002", "0.956"},
		{[]netcontent.Weight{1_0500, 9559, 1_0000}, true, "1.002", "0.9559"},
		{[]netcontent.Weight{9999}, true, "0.9999", "0.9999"},
	} {
		got := line.Check{Unit: netcontent.Pound, Declared: 1_0000, Weights: c.weights}.Judge()
		require.Equal(t, c.stopped, got.Stopped, got.Sentence)
		require.Equal(t, c.average, got.Average.String())
		require.Equal(t, c.lowest, got.Lowest.String())
		require.Equal(t, "0.044", got.Variation.String())
	}
}
