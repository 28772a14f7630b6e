package blend

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
)

// reference decides by trying every choice.
func reference(t *testing.T, o Order, barrels []Barrel) bool {
	t.Helper()
	p, err := newProblem(&o, barrels)
	require.NoError(t, err)
	for bits := range 1 << len(barrels) {
		var chosen []int
		for j := range barrels {
			if bits>>j&1 == 1 {
				chosen = append(chosen, j)
			}
		}
		if p.fits(chosen) {
			return true
		}
	}
	return false
}

func TestConflictIsImpossibleAndEveryLimitInItIsNeeded(t *testing.T) {
	t.Parallel()
	found := 0
	for seed := range uint64(150) {
		o, barrels := instance(seed+500, 7+int(seed%4))
		plan, err := Choose(o, barrels, Options{})
		require.NoError(t, err)
		if plan.Status != Infeasible {
			require.Empty(t, plan.Conflict)
			continue
		}
		found++
		named := o
		for _, l := range o.limits() {
			if !contains(plan.Conflict, l) {
				named = named.without(l)
			}
		}
		require.False(t, reference(t, named, barrels), "seed %d: %v", seed, plan.Conflict)
		for _, l := range plan.Conflict {
			require.True(t, reference(t, named.without(l), barrels), "seed %d: %v without %s", seed, plan.Conflict, l)
		}
	}
	require.Greater(t, found, 40)
}

func TestConflictNamesWhatABlendLeadWouldSay(t *testing.T) {
	t.Parallel()
	wet, aged := quantity.Percent(1760), int64(0)
	barrels := []Barrel{
		{ID: "a", Weight: 640_000, Moisture: 1680, Member: "members/M-0001", Variety: "clover", CropYear: 2025},
		{ID: "b", Weight: 640_000, Moisture: 1900, Member: "members/M-0002", Variety: "clover", CropYear: 2026},
		{ID: "c", Weight: 630_000, Moisture: 1740, Member: "members/M-0003", Variety: "basswood", CropYear: 2026},
	}
	o := Order{ID: "T-1", MinWeight: 1_900_000, MaxWeight: 1_920_000, MaxMoisture: &wet, Variety: "clover", MinShare: 5000}
	plan, err := Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, []Limit{MinWeight, MaxMoisture}, plan.Conflict)

	wet = 1780
	plan, err = Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, Proved, plan.Status)
	// 640 at 16.8, 640 at 19.0 and 630 at 17.4 is 17.74 %: the worked example of a blend in mass-weighted means.
	require.Equal(t, quantity.Percent(1774), plan.Figures.Moisture)
	require.Equal(t, quantity.Percent(6702), plan.Figures.Share)

	o.MaxAged, o.AgedCropYear = &aged, 2025
	plan, err = Choose(o, barrels, Options{})
	require.NoError(t, err)
	require.Equal(t, []Limit{MinWeight, MaxAged}, plan.Conflict)
}
