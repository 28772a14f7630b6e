package domain

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// DerivedFact follows from what was measured. It is advice: nothing is graded or paid by it.
type DerivedFact struct {
	// ID such as "density".
	ID string
	// Value with its unit, or a verdict in one word.
	Value string
	// Text says it in a sentence with the numbers.
	Text string
	// Source and Provenance of the figures it rests on.
	Source, Provenance string
	// Limits of validity, in words.
	Limits string
}

// Composition is what facts are derived from. Zero yeast is a count of zero; negative is not counted. Glucose and fructose
// are percent, zero for not measured.
type Composition struct {
	// Moisture is zero where only a bottle was weighed.
	Moisture          Value
	Yeast             int64
	Glucose, Fructose Value
	// Bottle is nil when none was weighed.
	Bottle *Bottle
}

// CompositionText is a composition as it was typed in.
type CompositionText struct{ Moisture, Yeast, Glucose, Fructose, BottleEmpty, BottleWater, BottleHoney string }

// ParseComposition reads the fields of a question. Empty fields were not measured; water is required unless a bottle was
// weighed. Errors: *FieldError
// and *OutOfRangeError, all at once.
func ParseComposition(in CompositionText) (Composition, error) {
	c := Composition{Yeast: -1}
	var faults []error
	read := func(field, s string, into *Value, f Factor) {
		if s == "" {
			return
		}
		v, err := parseValueField(field, s)
		if err == nil {
			err = f.check(field, v)
		}
		if err != nil {
			faults = append(faults, err)
		}
		*into = v
	}
	bottle, err := parseBottle(&in)
	if err != nil {
		faults = append(faults, err)
	}
	c.Bottle = bottle
	if in.Moisture == "" && bottle == nil {
		faults = append(faults, &FieldError{"moisture_percent", "moisture_percent is missing: everything is derived from the water"})
	}
	read("moisture_percent", in.Moisture, &c.Moisture, Moisture)
	read("glucose_percent", in.Glucose, &c.Glucose, Sugars)
	read("fructose_percent", in.Fructose, &c.Fructose, Sugars)
	if in.Yeast != "" {
		n, err := parseField("yeast_per_g", in.Yeast, func(s string) (int64, error) { return quantity.ParseFixed(s, 0) })
		if err == nil && n < 0 {
			err = &FieldError{"yeast_per_g", "yeast_per_g cannot be negative"}
		}
		if err != nil {
			faults = append(faults, err)
		}
		c.Yeast = n
	}
	return c, joined(faults)
}

// parseBottle reads three weights, all or none.
func parseBottle(in *CompositionText) (*Bottle, error) {
	if in.BottleEmpty == "" && in.BottleWater == "" && in.BottleHoney == "" {
		return nil, nil
	}
	var b Bottle
	for _, w := range []struct {
		field, text string
		into        *Value
	}{{"bottle_empty_g", in.BottleEmpty, &b.Empty}, {"bottle_water_g", in.BottleWater, &b.Water}, {"bottle_honey_g", in.BottleHoney, &b.Honey}} {
		v, err := parseValueField(w.field, w.text)
		if err != nil {
			return nil, err
		}
		if v <= 0 || v > heaviestBottle {
			return nil, &FieldError{w.field, fmt.Sprintf("%s: %s g is no weight of a bottle: it must be over 0 and at most 1000", w.field, w.text)}
		}
		*w.into = v
	}
	_, err := b.Gravity()
	return &b, err
}

// Derive lists what follows, leaving out what is outside the validity of its source.
func (c *Composition) Derive() []DerivedFact {
	var facts []DerivedFact
	if c.Bottle != nil {
		if f, err := c.Bottle.fact(); err == nil { // the weights were checked when they were read
			facts = append(facts, f)
		}
	}
	if c.Moisture == 0 {
		return facts
	}
	facts = append(facts, c.solids())
	if d, ok := c.density(); ok {
		facts = append(facts, d)
	}
	facts = append(facts, c.fermentation())
	return append(facts, c.granulation()...)
}

func (c *Composition) solids() DerivedFact {
	v := (100*one - c.Moisture).Format(1) + " %"
	return DerivedFact{
		ID: "soluble_solids", Value: v, Text: fmt.Sprintf("%s leaves %s soluble solids.", percentWater(c.Moisture), v),
		Source:     "USDA AMS, United States Standards for Grades of Extracted Honey, eff. 23 May 1985: solids are 100 less water",
		Provenance: "memory (95 % sure)", Limits: "by convention, for any honey",
	}
}

const gravityDigits = 5

var gravityTable = readTable("specific-gravity.csv", valueDigits, gravityDigits)

// Water weighs 0.998203 g/mL at 20 °C; 1 g/mL is 8.345404 lb to the US gallon (both computed from exact factors and the
// density of water).
const (
	waterMillionths = 998_203
	poundMillionths = 8_345_404
)

func (c *Composition) density() (DerivedFact, bool) {
	first, last := gravityTable[0], gravityTable[len(gravityTable)-1]
	if int64(c.Moisture) < first.at || int64(c.Moisture) > last.at {
		return DerivedFact{}, false
	}
	gravity := interpolate(gravityTable, int64(c.Moisture))
	pounds, err := quantity.MulDiv(gravity*waterMillionths, poundMillionths, 10_000_000_000_000_0)
	if err != nil {
		return DerivedFact{}, false
	}
	value := quantity.FormatFixed(pounds, 3, 3) + " lb/gal"
	return DerivedFact{
		ID: "density", Value: value,
		Text: fmt.Sprintf("At %s the specific gravity is %s and a US gallon weighs %s at 20 °C.",
			percentWater(c.Moisture), quantity.FormatFixed(gravity, gravityDigits, 4), value),
		Source:     "White 1975 in Crane (ed.), reprinted in Krell, FAO Bulletin 124 (1996)",
		Provenance: "memory of specific gravity (about 85 % sure); weight of a gallon computed",
		Limits:     "13 to 21 % water at 20 °C; never for settlement, which weighs",
	}, true
}

// yeastBand is how many yeasts a gram honey up to some water can bear. The printed bands leave gaps of 0.1 between them,
// closed here by "over"; 17.1 itself belongs to the second.
type yeastBand struct {
	upTo  Value
	below bool // the bound itself belongs to the next band
	most  int64
}

const anyYeast, noYeast = -1, -2

var yeastBands = []yeastBand{
	{171 * tenth, true, anyYeast}, {180 * tenth, false, 1000}, {190 * tenth, false, 10}, {200 * tenth, false, 0}, {1000 * tenth, false, noYeast},
}

func (c *Composition) fermentation() DerivedFact {
	band := yeastBands[slices.IndexFunc(yeastBands, func(b yeastBand) bool { return c.Moisture < b.upTo || (c.Moisture == b.upTo && !b.below) })]
	f := DerivedFact{
		ID:         "fermentation",
		Source:     "Lochhead 1933 (Zbl. Bakt. II 88:296) as tabulated in A Practical Manual of Beekeeping Table 2, and USDA Agric. Handbook 335",
		Provenance: "read; the texts differ on whether the count itself is still safe and on 19 to 20 %",
		Limits:     "liquid honey stored a year; partly granulated honey ferments sooner (common practice, no source)",
	}
	water := percentWater(c.Moisture)
	switch {
	case band.most == anyYeast:
		f.Value, f.Text = "SAFE", water+" is safe whatever the yeast count."
	case band.most == noYeast:
		f.Value, f.Text = "AT_RISK", water+" is always at risk of fermenting."
	case c.Yeast < 0:
		f.Value, f.Text = "DEPENDS", fmt.Sprintf("%s is safe with %s.", water, yeastWords(band.most))
	case c.Yeast <= band.most:
		f.Value, f.Text = "SAFE", fmt.Sprintf("%s with %d yeasts a gram is safe: it can bear %s.", water, c.Yeast, yeastWords(band.most))
	default:
		f.Value, f.Text = "AT_RISK", fmt.Sprintf("%s with %d yeasts a gram is at risk of fermenting: it can bear %s.", water, c.Yeast, yeastWords(band.most))
	}
	return f
}

func yeastWords(most int64) string {
	if most == 0 {
		return "less than 1 yeast a gram"
	}
	return fmt.Sprintf("at most %d yeasts a gram", most)
}

// Ratios in hundredths that the tendency to granulate is judged by.
const (
	staysLiquid, granulates = 170, 210
	fructoseGranulates      = 42
)

func (c *Composition) granulation() []DerivedFact {
	if c.Glucose <= 0 {
		return nil
	}
	ratio := int64(c.Glucose) * 100 / int64(c.Moisture)
	f := DerivedFact{
		ID: "granulation", Value: "UNCERTAIN", Source: "White 1962, glucose to water", Provenance: "mixed: 2.1 read, 1.7 memory (85 % sure; another text prints 1.64)",
		Limits: "fastest near 14 °C; seeding and stirring change it",
	}
	switch {
	case ratio < staysLiquid:
		f.Value = "STAYS_LIQUID"
	case int64(c.Glucose)*100 > granulates*int64(c.Moisture):
		f.Value = "GRANULATES"
	}
	f.Text = fmt.Sprintf("Glucose to water is %s: below 1.7 honey stays liquid, above 2.1 it granulates readily.", quantity.FormatFixed(ratio, 2, 2))
	facts := []DerivedFact{f}
	if c.Fructose <= 0 {
		return facts
	}
	second := DerivedFact{
		ID: "granulation_by_fructose", Value: "UNCERTAIN", Source: "beeclubpellas.blogspot.com, (glucose − water) to fructose",
		Provenance: "read", Limits: f.Limits,
	}
	if int64(c.Glucose-c.Moisture)*100 > fructoseGranulates*int64(c.Fructose) {
		second.Value = "GRANULATES"
	}
	second.Text = fmt.Sprintf("Glucose less water, to fructose, is %s: above 0.42 honey granulates.",
		quantity.FormatFixed(int64(c.Glucose-c.Moisture)*100/int64(c.Fructose), 2, 2))
	return append(facts, second)
}
