package domain

import (
	"fmt"
	"math"

	"barrelhead.example/services/kit/quantity"
)

// The optical density at 560 nm in 3.15 cm against glycerin of the upper limit of each colour class, and the same limit in
// mm (USDA, Extracted Honey, eff. 23 May 1985, Table I, as restated in public).
var pfundByDensityTable = readTable("pfund-by-optical-density.csv", rawDigits, valueDigits)

const (
	densestMillionths   = 4_000_000
	densityDigits       = 4
	densityToMillionths = 100
)

func pfundByOpticalDensity(in measuring) (Value, string, error) {
	if in.raw < 0 || in.raw > densestMillionths {
		return 0, "", &OutOfRangeError{"raw_value", "0", "4.0", fmt.Sprintf(
			"optical density %s is outside 0 to 4.0: read it again and check the blank", in.rawText)}
	}
	v, how := pfundOfDensity(in.raw)
	return v, fmt.Sprintf("optical density %s at 560 nm %s", in.rawText, how), nil
}

// Transmittance is refused below a hundredth of a percent, where an instrument sees noise.
const faintest, clearest = 10_000, 100_000_000

func pfundByTransmittance(in measuring) (Value, string, error) {
	if in.raw < faintest || in.raw > clearest {
		return 0, "", &OutOfRangeError{"raw_value", "0.01", "100", fmt.Sprintf(
			"%s %% transmittance is outside 0.01 to 100: read it again and check the blank", in.rawText)}
	}
	// Physics: rounded once, half up, to the four digits the limits are printed with.
	density := int64(math.Floor(math.Log10(float64(clearest)/float64(in.raw))*1e4+0.5)) * densityToMillionths
	v, how := pfundOfDensity(density)
	return v, fmt.Sprintf("%s %% transmittance at 560 nm is optical density %s, which %s", in.rawText,
		quantity.FormatFixed(density, rawDigits, densityDigits), how), nil
}

// pfundOfDensity draws straight lines between the printed limits, and the last of them on. A density over a limit belongs
// to the next class even where its mm would round back to the limit, so it is reported a tenth of a mm over.
func pfundOfDensity(density int64) (Value, string) {
	table := pfundByDensityTable
	last := len(table) - 1
	if density > table[last].at {
		a, b := table[last-1], table[last]
		v := Value(b.value + (density-b.at)*(b.value-a.value)/(b.at-a.at))
		return overLimit(v, Value(b.value)), fmt.Sprintf("is over the last printed limit, about %s colour", Color.FormatUnit(overLimit(v, Value(b.value))))
	}
	v := Value(interpolate(table, density))
	for _, limit := range table {
		if density > limit.at {
			v = overLimit(v, Value(limit.value))
		}
	}
	return v, fmt.Sprintf("is about %s colour between the printed limits of the classes", Color.FormatUnit(v))
}

func overLimit(v, limit Value) Value {
	return max(v, limit+tenth/2)
}
