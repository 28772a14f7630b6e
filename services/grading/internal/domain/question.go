package domain

import (
	"fmt"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// Style of extracted honey in the United States standard.
type Style int

// Styles. Honey of which nothing is said is strained: pollen and fine particles may be in it.
const (
	Strained Style = iota
	Filtered
	styleEnd
)

var styleNames = [styleEnd]string{"STRAINED", "FILTERED"}

// String is the name without prefix.
func (s Style) String() string {
	if s < 0 || s >= styleEnd {
		return "UNSPECIFIED"
	}
	return styleNames[s]
}

// MarshalText is String.
func (s Style) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a name; an unknown one is an error.
func (s *Style) UnmarshalText(text []byte) error {
	at := slices.Index(styleNames[:], string(text))
	if at < 0 {
		return fmt.Errorf("unknown style %q", text)
	}
	*s = Style(at)
	return nil
}

// Claim is something said of the honey that some limit depends on.
type Claim string

// Claims that limits of the published standards depend on.
const (
	Pasteurized   Claim = "PASTEURIZED"
	HoneydewBlend Claim = "HONEYDEW"
	Pressed       Claim = "PRESSED"
	Bakers        Claim = "BAKERS"
	Tropical      Claim = "TROPICAL"
	LowEnzyme     Claim = "LOW_ENZYME"
)

// Claims lists every claim.
func Claims() []Claim {
	return []Claim{Pasteurized, HoneydewBlend, Pressed, Bakers, Tropical, LowEnzyme}
}

// Question is what a standard is asked about. What is not said is not judged.
type Question struct {
	Style Style
	// Source is the declared floral source, lower case; empty is any.
	Source string
	Claims []Claim
	// MarkedColor is the colour class printed on a label, for standards that have a rule for it.
	MarkedColor string
	values      [factorEnd]Value
	given       [factorEnd]bool
}

// Set gives a value, rounded once at the reporting digit of its factor, for the reported value is what grades. It fails
// with *OutOfRangeError.
func (q *Question) Set(f Factor, v Value) error {
	if err := f.check(f.spec().field, v); err != nil {
		return err
	}
	q.values[f], q.given[f] = f.Report(v), true
	return nil
}

// SetText is Set of a decimal string with at most four digits after the point; an empty one says nothing. Points must be
// whole. Errors: *FieldError, *OutOfRangeError.
func (q *Question) SetText(f Factor, s string) error {
	if s == "" {
		return nil
	}
	field := f.spec().field
	raw, err := parseField(field, s, func(s string) (int64, error) { return quantity.ParseFixed(s, valueDigits) })
	if err != nil {
		return err
	}
	v := Value(raw)
	if f.spec().step == one && v%one != 0 {
		return &FieldError{field, fmt.Sprintf("%s: %s is not a whole number of %s", field, s, f.spec().counted())}
	}
	return q.Set(f, v)
}

// Get is the reported value of a factor and whether it was given.
func (q *Question) Get(f Factor) (Value, bool) { return q.values[f], q.given[f] }

// Ask reads the fields of a question and reports every fault of them at once.
func Ask(style Style, fields map[Factor]string) (Question, error) {
	var texts Fields
	for f, text := range fields {
		texts.Set(f, text)
	}
	return texts.Ask(style)
}

// Fields are the texts of a question by factor; empty says nothing.
type Fields [factorEnd]string

// Set gives the text of a factor.
func (t *Fields) Set(f Factor, text string) { t[f] = text }

// Ask reads the fields and reports every fault of them at once.
func (t *Fields) Ask(style Style) (Question, error) {
	q := Question{Style: style}
	var faults []error
	for f := Moisture; f < factorEnd; f++ {
		if err := q.SetText(f, t[f]); err != nil {
			faults = append(faults, err)
		}
	}
	return q, joined(faults)
}

var errNothingAsked = &FieldError{"moisture_percent", "nothing was given to judge: give at least one value, e.g. moisture_percent"}

// matches reports whether a condition holds; none always does.
func (c *Condition) matches(q *Question) bool {
	if c == nil {
		return true
	}
	if len(c.Sources) > 0 && !slices.Contains(c.Sources, q.Source) {
		return false
	}
	if c.Claim != "" && !slices.Contains(q.Claims, c.Claim) {
		return false
	}
	if c.Factor != 0 {
		v, ok := q.Get(c.Factor)
		return ok && v <= c.Most
	}
	return true
}
