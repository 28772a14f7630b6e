package web_test

import (
	"fmt"
	"maps"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A palette names the colours of the style sheet under one scheme, as #rrggbb.
type palette map[string]string

var (
	colourNamed   = regexp.MustCompile(`--([a-z-]+): #([0-9a-f]{3}|[0-9a-f]{6});`)
	colourUnnamed = regexp.MustCompile(`#[0-9a-f]{3,6}\b`)
)

// palettes are the light scheme and the dark one laid over it.
func palettes(t *testing.T) (light, dark palette, own []string) {
	t.Helper()
	sheet, err := os.ReadFile("site/static/barrelhead.css")
	require.NoError(t, err)
	day, rest, found := strings.Cut(string(sheet), "@media screen and (prefers-color-scheme: dark) {")
	require.True(t, found, "paper stays light: the dark scheme is for screens alone")
	night, _, found := strings.Cut(rest, "\n}\n")
	require.True(t, found)
	light, dark = palette{}, palette{}
	for _, named := range colourNamed.FindAllStringSubmatch(day, -1) {
		light[named[1]] = named[2]
	}
	maps.Copy(dark, light)
	for _, named := range colourNamed.FindAllStringSubmatch(night, -1) {
		require.Contains(t, light, named[1], "a colour only the dark scheme knows")
		dark[named[1]] = named[2]
		own = append(own, named[1])
	}
	return light, dark, own
}

// luminance of a colour: WCAG 2.2, "relative luminance", https://www.w3.org/TR/WCAG22/#dfn-relative-luminance.
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	if len(colour) == 3 {
		colour = fmt.Sprintf("%[1]c%[1]c%[2]c%[2]c%[3]c%[3]c", colour[0], colour[1], colour[2])
	}
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		part, err := strconv.ParseUint(colour[2*i:2*i+2], 16, 8)
		require.NoError(t, err, colour)
		c := float64(part) / 255
		if c <= 0.04045 {
			sum += weight * c / 12.92
		} else {
			sum += weight * math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return sum
}

// contrast of two colours by the same text, 1 to 21.
func contrast(t *testing.T, one, other string) float64 {
	t.Helper()
	a, b := luminance(t, one), luminance(t, other)
	return (max(a, b) + 0.05) / (min(a, b) + 0.05)
}

func TestPalette_ContrastIsThatOfThePublishedFormula(t *testing.T) {
	t.Parallel()
	require.InDelta(t, 21, contrast(t, "000", "ffffff"), 1e-9)
	require.InDelta(t, 4.48, contrast(t, "777777", "fff"), 0.01) // the grey that just fails
}

// TestPalette_EveryWordCanBeRead asks 4.5 : 1 of text and 3 : 1 of what else must be seen (WCAG 2.2, 1.4.3 and 1.4.11).
func TestPalette_EveryWordCanBeRead(t *testing.T) {
	t.Parallel()
	text := map[string][]string{
		"paper": {"ink", "soft", "amber", "good", "bad", "wait"}, "card": {"ink", "soft", "amber", "good", "bad", "faint"},
		"field": {"ink", "faint"}, "bad-paper": {"ink", "soft", "bad"}, "good-paper": {"ink", "good"}, "wait-paper": {"ink", "soft", "amber", "wait"},
		"honey": {"on-honey"}, "honey-press": {"on-honey"}, "danger": {"on-danger"}, "danger-press": {"on-danger"}, "ink": {"paper"},
		"bar": {"on-bar", "bar-soft", "bar-good", "honey"},
	}
	seen := map[string][]string{
		"paper": {"edge", "focus", "danger-edge", "swatch"}, "card": {"edge", "focus"}, "field": {"edge"}, "bar": {"bar-edge"}, "ink": {"tick"},
		"bad-paper": {"ink"}, "good": {"sign"}, "bad": {"sign"}, "wait": {"sign"}, "track": {"ink"},
	}
	light, dark, own := palettes(t)
	for scheme, colours := range map[string]palette{"light": light, "dark": dark} {
		for least, pairs := range map[float64]map[string][]string{4.5: text, 3: seen} {
			for ground, inks := range pairs {
				for _, ink := range inks {
					got := contrast(t, colours[ink], colours[ground])
					require.GreaterOrEqual(t, got, least, "%s: %s on %s is %.2f", scheme, ink, ground, got)
				}
			}
		}
	}
	// What is not laid over anew is meant to be one colour in both: honey, what stands on it, the bar, the red button.
	for _, name := range slices.Sorted(maps.Keys(light)) {
		if !slices.Contains(own, name) {
			require.Regexp(t, `^(on-)?(honey|danger|bar)`, name, "--%s has no dark colour", name)
		}
	}
}

// A colour written into a rule would not follow the scheme. Only honey is the same by day and night.
func TestPalette_NoRuleHasAColourOfItsOwn(t *testing.T) {
	t.Parallel()
	sheet, err := os.ReadFile("site/static/barrelhead.css")
	require.NoError(t, err)
	for line := range strings.Lines(string(sheet)) {
		if colourNamed.MatchString(line) || regexp.MustCompile(`^\.(honey-|mark-rim|flow-back)|body \{ background: #fff; \}`).MatchString(strings.TrimSpace(line)) {
			continue
		}
		require.NotRegexp(t, colourUnnamed, line)
	}
}
