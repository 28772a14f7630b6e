package domain

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// The Chataway table as printed by Bogdanov, Book of Honey, ch. 4: refractive index at 20 °C to water, 61 rows.
var moistureTable = readTable("moisture-by-index.csv", indexDigits, valueDigits)

// The international sucrose scale, from memory.
var brixTable = readTable("index-by-brix.csv", rawDigits, indexDigits)

// indexPerHundredth is 0.00023 per °C (Bogdanov, Book of Honey, ch. 4) for a hundredth of a degree, in 10⁻⁷.
const indexPerHundredth = 23

// What a refractometer for honey can show at any temperature it may be read at.
const lowestIndex, highestIndex = 1_470_000, 1_510_000

const perMillionthToIndex = 10

// indexAt20 corrects a refractive index to 20 °C: warm honey bends light less.
func indexAt20(in measuring) int64 {
	return in.raw*perMillionthToIndex + indexPerHundredth*(in.temperature-reference)
}

func moistureByIndex(in measuring) (Value, string, error) {
	if in.raw < lowestIndex || in.raw > highestIndex {
		return 0, "", &OutOfRangeError{"raw_value", "1.4700", "1.5100", fmt.Sprintf(
			"refractive index %s is outside 1.4700 to 1.5100: read it again and check where the point stands", in.rawText)}
	}
	index := indexAt20(in)
	how := fmt.Sprintf("refractive index %s at %s °C", in.rawText, in.temperatureText())
	if in.temperature != reference {
		how += fmt.Sprintf(" is %s at 20 °C", formatIndex(index))
	}
	v, err := moistureOf(index, how)
	if err != nil {
		return 0, "", err
	}
	return v, fmt.Sprintf("%s, by the table %s", how, percentWater(v)), nil
}

func moistureByBrix(in measuring) (Value, string, error) {
	first, last := brixTable[0].at, brixTable[len(brixTable)-1].at
	if in.raw < first || in.raw > last {
		low, high := quantity.FormatFixed(first, rawDigits, 1), quantity.FormatFixed(last, rawDigits, 1)
		return 0, "", &OutOfRangeError{"raw_value", low, high, fmt.Sprintf(
			"%s °Brix is outside %s to %s: read it again and check where the point stands", in.rawText, low, high)}
	}
	index := interpolate(brixTable, in.raw)
	how := fmt.Sprintf("%s °Brix is refractive index %s at 20 °C (sucrose scale from memory)", in.rawText, formatIndex(index))
	v, err := moistureOf(index, how)
	if err != nil {
		return 0, "", err
	}
	return v, fmt.Sprintf("%s, by the table %s", how, percentWater(v)), nil
}

// moistureOf reads the table. Beyond its ends there is no published figure, so there is no result.
func moistureOf(index int64, how string) (Value, error) {
	first, last := moistureTable[0], moistureTable[len(moistureTable)-1]
	if index < first.at || index > last.at {
		return 0, &OutOfRangeError{"raw_value", formatIndex(first.at), formatIndex(last.at), fmt.Sprintf(
			"%s, outside %s to %s of the table (%s to %s): dry or dilute honey needs another method",
			how, formatIndex(first.at), formatIndex(last.at), Moisture.Format(Value(last.value)), percentWater(Value(first.value)))}
	}
	return Value(interpolate(moistureTable, index)), nil
}

func percentWater(v Value) string { return v.Format(1) + " % water" }

func formatIndex(v int64) string { return quantity.FormatFixed(v, indexDigits, 4) }
