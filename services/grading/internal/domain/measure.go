package domain

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"barrelhead.example/services/kit/quantity"
)

// rawDigits is how finely an instrument may be read.
const rawDigits = 6

// Temperatures are counted in hundredths of a degree Celsius.
const (
	temperatureDigits = 2
	reference         = 20_00
	coldest, warmest  = 10_00, 40_00
)

// Measurement is what a raw reading came to.
type Measurement struct {
	Kind   Kind
	Factor Factor
	// Computed is the result before rounding, cut to four digits.
	Computed Value
	// Reported is the exact result rounded once, half up, at the factor's reporting digit. It grades and prices.
	Reported Value
	// Explanation says how, in plain words with the numbers.
	Explanation string
}

// measuring is one raw number on its way.
type measuring struct {
	factor Factor
	// rawText is the number as the person entered it.
	rawText string
	// raw is the same in millionths.
	raw int64
	// temperature in hundredths of a degree; the reference where none was given.
	temperature int64
}

// Measure turns what an instrument showed into a reported value. temperature is that of the sample in °C and belongs to
// a refractive index only; empty means 20.0. Errors: *FieldError, *OutOfRangeError.
func Measure(kind Kind, raw, temperature string) (Measurement, error) {
	if kind <= 0 || kind >= kindEnd {
		return Measurement{}, &FieldError{"kind", fmt.Sprintf("method %d is not known", int(kind))}
	}
	in, err := parseMeasuring(kind, raw, temperature)
	if err != nil {
		return Measurement{}, err
	}
	spec := kindSpecs[kind]
	computed, how, err := spec.measure(in)
	if err != nil {
		return Measurement{}, err
	}
	if err := spec.factor.check("raw_value", computed); err != nil {
		return Measurement{}, err
	}
	m := Measurement{Kind: kind, Factor: spec.factor, Computed: computed, Reported: spec.factor.Report(computed)}
	m.Explanation = sentence(how + m.rounding())
	return m, nil
}

func (m Measurement) rounding() string {
	if m.Computed == m.Reported {
		return "."
	}
	return fmt.Sprintf(", reported as %s (rounded once, half up).", m.Factor.FormatUnit(m.Reported))
}

func parseMeasuring(kind Kind, raw, temperature string) (measuring, error) {
	in := measuring{factor: kind.Factor(), rawText: raw, temperature: reference}
	value, err := parseField("raw_value", raw, func(s string) (int64, error) { return quantity.ParseFixed(s, rawDigits) })
	if err != nil {
		return in, err
	}
	in.raw = value
	if temperature == "" {
		return in, nil
	}
	in.temperature, err = parseField("temperature_c", temperature,
		func(s string) (int64, error) { return quantity.ParseFixed(s, temperatureDigits) })
	if err != nil {
		return in, err
	}
	return in, in.checkTemperature(kind)
}

func (in measuring) checkTemperature(kind Kind) error {
	if kind != RefractiveIndex && in.temperature != reference {
		return &FieldError{"temperature_c", fmt.Sprintf(
			"%s °C is given, but only a refractive index is corrected for temperature: leave it empty", in.temperatureText())}
	}
	if in.temperature < coldest || in.temperature > warmest {
		return &OutOfRangeError{"temperature_c", "10.0", "40.0", fmt.Sprintf(
			"%s °C is outside 10.0 to 40.0 °C: bring the sample nearer to 20 °C and read it again", in.temperatureText())}
	}
	return nil
}

func (in measuring) temperatureText() string {
	return quantity.FormatFixed(in.temperature, temperatureDigits, 1)
}

// millionthsPerStep leads from the six digits of an instrument to the four of a value.
const millionthsPerStep = 100

// asRead takes a number an instrument shows in the unit of the factor.
func asRead(in measuring) (Value, string, error) {
	if err := in.checkRaw(in.factor.spec().low, in.factor.spec().high); err != nil {
		return 0, "", err
	}
	v := Value(in.raw / millionthsPerStep)
	return v, fmt.Sprintf("%s %s read directly", tidy(in.rawText)+" "+in.factor.spec().unit, in.factor.Words()), nil
}

// wholePoints refuses halves: a score is given on a sheet of whole points, and rounding one would decide a grade.
func wholePoints(in measuring) (Value, string, error) {
	if err := in.checkRaw(in.factor.spec().low, in.factor.spec().high); err != nil {
		return 0, "", err
	}
	v := Value(in.raw / millionthsPerStep)
	if v%one != 0 || in.raw%millionthsPerStep != 0 {
		return 0, "", &FieldError{"raw_value", fmt.Sprintf("%s %s is not a whole number of points", in.rawText, in.factor.Words())}
	}
	return v, fmt.Sprintf("%s of %s for %s", in.factor.Format(v), in.factor.FormatUnit(in.factor.spec().high), in.factor.Words()), nil
}

// checkRaw compares the raw number itself, before anything is cut from it.
func (in measuring) checkRaw(low, high Value) error {
	if in.raw >= int64(low)*millionthsPerStep && in.raw <= int64(high)*millionthsPerStep {
		return nil
	}
	f := in.factor
	return &OutOfRangeError{"raw_value", f.Format(low), f.Format(high), fmt.Sprintf(
		"%s %s %s is outside %s to %s: read it again and check where the point stands",
		in.rawText, f.spec().unit, f.Words(), f.Format(low), f.FormatUnit(high))}
}

// sentence starts with a capital.
func sentence(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// tidy drops leading zeros nobody writes on paper.
func tidy(s string) string {
	trimmed := strings.TrimLeft(s, "0")
	if trimmed == "" || trimmed[0] == '.' {
		return "0" + trimmed
	}
	return trimmed
}
