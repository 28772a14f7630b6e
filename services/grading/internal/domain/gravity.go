package domain

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// moistureByGravityTable is the table of specific gravity read the other way round: honey is lighter the wetter it is.
var moistureByGravityTable = func() []point {
	table := make([]point, 0, len(gravityTable))
	for _, p := range slices.Backward(gravityTable) {
		table = append(table, point{p.value * gravityToMillionths, p.at})
	}
	return table
}()

const gravityToMillionths = 10

const million = 1_000_000

func moistureByGravity(in measuring) (Value, string, error) {
	first, last := moistureByGravityTable[0].at, moistureByGravityTable[len(moistureByGravityTable)-1].at
	return moistureOfGravity(in, in.raw, fmt.Sprintf("specific gravity %s", in.rawText), formatGravity(first), formatGravity(last))
}

// The densities of the ends of the table as printed, in g/mL.
const lowestDensity, highestDensity = "1.3925", "1.4431"

func moistureByDensity(in measuring) (Value, string, error) {
	gravity, err := quantity.MulDiv(in.raw, million, waterMillionths)
	if err != nil {
		return 0, "", &FieldError{"raw_value", fmt.Sprintf("density %s g/mL cannot be right: read it again", in.rawText)}
	}
	how := fmt.Sprintf("density %s g/mL is specific gravity %s at 20 °C", in.rawText, formatGravity(gravity))
	return moistureOfGravity(in, gravity, how, lowestDensity, highestDensity)
}

// moistureOfGravity reads the table. Beyond its ends there is no published figure, so there is no result.
func moistureOfGravity(in measuring, gravity int64, how, low, high string) (Value, string, error) {
	table := moistureByGravityTable
	if gravity < table[0].at || gravity > table[len(table)-1].at {
		return 0, "", &OutOfRangeError{"raw_value", low, high, fmt.Sprintf(
			"%s is outside %s to %s of the table (13.0 to 21.0 %% water): read it again, or use another method", in.rawText, low, high)}
	}
	v := Value(interpolate(table, gravity))
	return v, fmt.Sprintf("%s, by the table (from memory) %s", how, percentWater(v)), nil
}

func formatGravity(millionths int64) string { return quantity.FormatFixed(millionths, rawDigits, 4) }

// Bottle is a specific gravity bottle weighed three times, in ten-thousandths of a gram.
type Bottle struct{ Empty, Water, Honey Value }

// Gravity is the weight of the honey over that of the same volume of water, in millionths, rounded once half up. Errors:
// *FieldError.
func (b Bottle) Gravity() (int64, error) {
	if b.Empty <= 0 || b.Water <= b.Empty || b.Honey <= b.Empty {
		return 0, &FieldError{"bottle_water_g", "the bottle must weigh more full than empty: compare the three weights"}
	}
	gravity, err := quantity.MulDiv(int64(b.Honey-b.Empty), million, int64(b.Water-b.Empty))
	if err != nil {
		return 0, &FieldError{"bottle_honey_g", "the weights are too far apart: compare the three weights"}
	}
	return gravity, nil
}

// heaviestBottle is more than any bottle weighs (common practice, no source).
const heaviestBottle = 1000 * one

// bottleFact is what three weighings say, and the water that follows where the table reaches.
func (b Bottle) fact() (DerivedFact, error) {
	gravity, err := b.Gravity()
	if err != nil {
		return DerivedFact{}, err
	}
	text := fmt.Sprintf("(%s − %s) / (%s − %s) g is a specific gravity of %s.", b.Honey.Format(1), b.Empty.Format(1), b.Water.Format(1), b.Empty.Format(1), formatGravity(gravity))
	if table := moistureByGravityTable; gravity >= table[0].at && gravity <= table[len(table)-1].at {
		text += fmt.Sprintf(" At 20 °C that is %s.", percentWater(Value(interpolate(table, gravity))))
	}
	return DerivedFact{
		ID: "specific_gravity", Value: formatGravity(gravity), Text: text,
		Source:     "pycnometer; water by White 1975 in Crane (ed.), reprinted in Krell, FAO Bulletin 124 (1996)",
		Provenance: "computed; the table of water from memory (about 85 % sure)", Limits: "both fillings at the same temperature; water only for 20 °C",
	}, nil
}
