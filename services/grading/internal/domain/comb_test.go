package domain_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/published"
)

// perfectComb is a section nothing can be said against.
func perfectComb(weight string) map[domain.Factor]string {
	return map[domain.Factor]string{
		domain.SectionWeight: weight, domain.Capping: "3", domain.CombSurface: "3", domain.CombUniformity: "1", domain.CombAttachment: "100",
	}
}

func combGrade(t testing.TB, id string, fields map[domain.Factor]string) string {
	t.Helper()
	return judgeBy(t, id, "", nil, fields).Grade
}

// The weights of the federal standard are from memory (about 75 % sure), those of Wisconsin were read.
func TestCombSectionWeightsAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	grades := map[string][3]string{ // standard, grade at the weight, grade just under it
		"U.S. Fancy": {"us-comb-1933", "FANCY", "NO_1"}, "U.S. No. 1": {"us-comb-1933", "NO_1", "NO_2"},
		"U.S. No. 1 Mixed Color": {"us-comb-1933", "NO_1_MIXED_COLOR", "NO_2"}, "U.S. No. 2": {"us-comb-1933", "NO_2", "UNCLASSIFIED"},
		"Wisconsin Fancy White": {"wisconsin-comb", "FANCY_WHITE", "NO_1"}, "Wisconsin No. 1": {"wisconsin-comb", "NO_1", "BELOW"},
	}
	checked := 0
	for _, row := range published.Where(published.Load(t, "us_comb_honey.csv"), "kind", "section") {
		want, known := grades[row.Text("grade")]
		if !known {
			continue
		}
		checked++
		weight, _, _ := strings.Cut(row.Text("min_net_weight_oz"), " ")
		section := perfectComb(weight)
		if strings.Contains(row.Text("grade"), "Mixed") {
			section[domain.CombUniformity] = "0"
		}
		require.Equal(t, want[1], combGrade(t, want[0], section), "%s", row)
		section[domain.SectionWeight] = (value(t, weight) - 100).Format(2) // a hundredth of an ounce under
		require.Equal(t, want[2], combGrade(t, want[0], section), "%s", row)
	}
	require.Equal(t, len(grades), checked)
}

// From memory (about 60 to 75 % sure): what each grade asks of the look of a comb.
func TestCombIsHeldDownByItsLook(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		factor domain.Factor
		value  string
		want   string
	}{
		"few uncapped cells":     {domain.Capping, "2", "NO_1"},
		"more uncapped cells":    {domain.Capping, "1", "NO_2"},
		"mostly uncapped":        {domain.Capping, "0", "UNCLASSIFIED"},
		"slightly soiled":        {domain.CombSurface, "2", "NO_1"},
		"travel stain":           {domain.CombSurface, "1", "NO_2"},
		"dirty":                  {domain.CombSurface, "0", "UNCLASSIFIED"},
		"mixed colour":           {domain.CombUniformity, "0", "NO_1_MIXED_COLOR"},
		"chunk, half of it comb": {domain.CombShare, "50", "FANCY"},
		"chunk, less than half":  {domain.CombShare, "49.9", "UNCLASSIFIED"},
	} {
		section := perfectComb("12")
		section[c.factor] = c.value
		require.Equal(t, c.want, combGrade(t, "us-comb-1933", section), name)
	}
	for _, l := range standard(t, "us-comb-1933").Limits() {
		require.True(t, l.Provisional(), "the federal comb standard was not read in print: %s", l.Text())
	}
}

// Read: sections attached 85 % of the way round, all sealed but the row at the wood, uniform, without travel stain; chunk
// packs half comb in at most 2 pieces, none broken.
func TestWisconsinComb(t *testing.T) {
	t.Parallel()
	chunk := published.Where(published.Load(t, "us_comb_honey.csv"), "kind", "chunk (Wisconsin)")[0]
	require.Contains(t, chunk.Text("empty_or_uncapped_cells"), "at most 2 pieces, none broken", "%s", chunk)
	for name, c := range map[string]struct {
		factor domain.Factor
		value  string
		want   string
	}{
		"attached all but round":  {domain.CombAttachment, "85", "FANCY_WHITE"},
		"attached less":           {domain.CombAttachment, "84.9", "NO_1"},
		"few uncapped cells":      {domain.Capping, "2", "NO_1"},
		"more uncapped cells":     {domain.Capping, "1", "BELOW"},
		"slightly soiled":         {domain.CombSurface, "2", "FANCY_WHITE"},
		"travel stain":            {domain.CombSurface, "1", "NO_1"},
		"mixed colour":            {domain.CombUniformity, "0", "NO_1"},
		"half of the weight comb": {domain.CombShare, "50", "FANCY_WHITE"},
		"less than half":          {domain.CombShare, "49.9", "BELOW"},
		"two pieces":              {domain.CombPieces, "2", "FANCY_WHITE"},
		"three pieces":            {domain.CombPieces, "3", "BELOW"},
		"none broken":             {domain.BrokenPieces, "0", "FANCY_WHITE"},
		"one broken":              {domain.BrokenPieces, "1", "BELOW"},
	} {
		section := perfectComb("12.5")
		section[c.factor] = c.value
		require.Equal(t, c.want, combGrade(t, "wisconsin-comb", section), name)
	}
	d := judgeBy(t, "wisconsin-comb", "", nil, map[domain.Factor]string{domain.CombPieces: "3", domain.BrokenPieces: "1"})
	require.Equal(t, "Comb in the pack at 3 pieces is over the 2 pieces limit of Wisconsin Fancy White and Wisconsin No. 1 and broken comb at 1 piece is over the 0 pieces limit of Wisconsin Fancy White and Wisconsin No. 1, so the sample is below Wisconsin No. 1.",
		d.Explanation)
	_, err := domain.Ask(domain.Strained, map[domain.Factor]string{domain.CombPieces: "1.5", domain.ScreenMesh: "80.5"})
	require.ErrorContains(t, err, "1.5 is not a whole number of pieces")
	require.ErrorContains(t, err, "80.5 is not a whole number of meshes to the inch")
}

func TestWhatNoCombWeighsIsRefused(t *testing.T) {
	t.Parallel()
	for factor, wrong := range map[domain.Factor]string{domain.SectionWeight: "64.1", domain.Capping: "4", domain.CombSurface: "1.5", domain.CombShare: "100.1"} {
		_, err := domain.Ask(domain.Strained, map[domain.Factor]string{factor: wrong})
		require.Error(t, err, factor.Words())
	}
	_, err := domain.NewControl(domain.Control{ID: "CH-1", Factor: domain.Capping}, "2", "1", "paper", 0)
	require.ErrorContains(t, err, "factor must be one that is measured")
}
