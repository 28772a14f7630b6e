package domain

import (
	"fmt"
	"slices"
	"strings"
)

// Factor is what a reading says something about. The order is the order in which results are listed.
type Factor int

// The factors, named on the wire as their text forms.
const (
	Moisture Factor = iota + 1
	Color
	Flavor
	Defects
	Clarity
	// Total is the sum of the points; nobody measures it.
	Total
	// HMF is hydroxymethylfurfural, which heat and age make.
	HMF
	// Diastase is the activity of an enzyme that heat and age destroy, by Schade or Gothe.
	Diastase
	Conductivity
	// Sugars are fructose and glucose together.
	Sugars
	Sucrose
	Acidity
	Insolubles
	// Density at 68 °F (20 °C).
	Density
	// Honeydew is the share that is not of blossoms.
	Honeydew
	// SectionWeight is the net weight of a comb section. This and the rest are of comb honey, which is judged by inspection.
	SectionWeight
	// Capping is 3 where no cell but those at the wood is uncapped, 2 for few beyond, 1 for more, 0 for worse.
	Capping
	// CombSurface is 3 for clean and white to slightly off-white, 2 for slightly soiled, 1 for travel stain, 0 for worse.
	CombSurface
	// CombUniformity is 1 for honey of one colour, 0 for mixed.
	CombUniformity
	// CombShare is the share of comb in a chunk pack.
	CombShare
	// CombAttachment is how far round the wood the comb is attached.
	CombAttachment
	// CombPieces and BrokenPieces are counted in a chunk pack.
	CombPieces
	BrokenPieces
	// ScreenMesh is the finest screen the honey passes without leaving foreign matter.
	ScreenMesh
	factorEnd
)

// factorSpec is how the laboratory handles a factor, whatever standard judges it.
type factorSpec struct {
	name string
	// field is the request field that carries it in a question.
	field string
	// words name it in a sentence.
	words string
	// unit follows a number.
	unit string
	// step is the reporting digit.
	step Value
	// digits are shown at least.
	digits    int
	low, high Value
}

// Plausible ranges: water 12 to 25 % and colour 0 to 150 mm are what the instruments in use can show (common practice, no
// source), and so are those of the tests done elsewhere; the points are the maxima of the United States score sheet.
var factorSpecs = [factorEnd]factorSpec{
	Moisture: {"MOISTURE", "moisture_percent", "water", "%", tenth, 1, 12 * one, 25 * one},
	Color:    {"COLOR", "pfund_mm", "colour", "mm", tenth, 1, 0, 150 * one},
	Flavor:   {"FLAVOR", "flavor", "flavour", "points", one, 0, 0, 50 * one},
	Defects:  {"DEFECTS", "defects", "absence of defects", "points", one, 0, 0, 40 * one},
	Clarity:  {"CLARITY", "clarity", "clarity", "points", one, 0, 0, 10 * one},
	Total:    {"TOTAL", "total", "the total", "points", one, 0, 0, 100 * one},

	HMF:          {"HMF", "hmf_mg_per_kg", "HMF", "mg/kg", tenth, 1, 0, 1_000 * one},
	Diastase:     {"DIASTASE", "diastase_number", "diastase", "DN", tenth, 1, 0, 100 * one},
	Conductivity: {"CONDUCTIVITY", "conductivity_ms_per_cm", "conductivity", "mS/cm", hundredth, 2, 0, 5 * one},
	Sugars:       {"SUGARS", "fructose_glucose_percent", "fructose and glucose", "%", tenth, 1, 0, 90 * one},
	Sucrose:      {"SUCROSE", "sucrose_percent", "sucrose", "%", tenth, 1, 0, 60 * one},
	Acidity:      {"ACIDITY", "free_acidity_meq_per_kg", "free acidity", "meq/kg", tenth, 1, 0, 300 * one},
	Insolubles:   {"INSOLUBLES", "insoluble_percent", "matter insoluble in water", "%", hundredth, 2, 0, 10 * one},
	Density:      {"DENSITY", "density_lb_per_gal", "density", "lb/gal", hundredth, 2, 11 * one, 13 * one},
	Honeydew:     {"HONEYDEW", "honeydew_percent", "honeydew", "%", tenth, 1, 0, 100 * one},

	SectionWeight:  {"SECTION_WEIGHT", "section_weight_oz", "net weight of the section", "oz", hundredth, 1, 0, 64 * one},
	Capping:        {"CAPPING", "capping", "capping", "points", one, 0, 0, 3 * one},
	CombSurface:    {"COMB_SURFACE", "comb_surface", "surface of the comb", "points", one, 0, 0, 3 * one},
	CombUniformity: {"COMB_UNIFORMITY", "comb_uniformity", "uniform colour", "points", one, 0, 0, one},
	CombShare:      {"COMB_SHARE", "comb_share_percent", "share of comb", "%", tenth, 1, 0, 100 * one},
	CombAttachment: {"COMB_ATTACHMENT", "comb_attachment_percent", "attachment to the wood", "%", tenth, 1, 0, 100 * one},
	CombPieces:     {"COMB_PIECES", "comb_piece_count", "comb in the pack", "pieces", one, 0, 0, 100 * one},
	BrokenPieces:   {"BROKEN_PIECES", "broken_piece_count", "broken comb", "pieces", one, 0, 0, 100 * one},

	ScreenMesh: {"SCREEN_MESH", "screen_mesh", "the finest screen passed", "mesh", one, 0, 1 * one, 500 * one},
}

// counted is what whole numbers of the factor count.
func (s factorSpec) counted() string {
	if s.unit == "mesh" {
		return "meshes to the inch"
	}
	return s.unit
}

// Factors lists every factor in order.
func Factors() []Factor {
	all := make([]Factor, 0, factorEnd-1)
	for f := Moisture; f < factorEnd; f++ {
		all = append(all, f)
	}
	return all
}

// Measured reports whether some method measures the factor; the rest are sums or found by inspection.
func (f Factor) Measured() bool {
	return slices.ContainsFunc(kindSpecs[:], func(k kindSpec) bool { return f != 0 && k.factor == f })
}

func (f Factor) spec() factorSpec {
	if f <= 0 || f >= factorEnd {
		return factorSpec{name: "UNSPECIFIED"}
	}
	return factorSpecs[f]
}

// String is the name without prefix, e.g. "MOISTURE".
func (f Factor) String() string { return f.spec().name }

// Words name the factor in a sentence, e.g. "absence of defects".
func (f Factor) Words() string { return f.spec().words }

// Format writes a value of this factor without its unit, with as many digits as it is reported in.
func (f Factor) Format(v Value) string { return v.Format(f.spec().digits) }

// FormatUnit writes a value with its unit, e.g. "18.6 %" or "1 point".
func (f Factor) FormatUnit(v Value) string {
	unit := f.spec().unit
	if v == one {
		unit = strings.TrimSuffix(unit, "s")
	}
	return f.Format(v) + " " + unit
}

// Report rounds a value once, half up, at the reporting digit of the factor.
func (f Factor) Report(v Value) Value { return v.roundHalfUp(f.spec().step) }

// MarshalText is String.
func (f Factor) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

// UnmarshalText reads a name; an unknown one is an error.
func (f *Factor) UnmarshalText(text []byte) error {
	at := slices.IndexFunc(factorSpecs[:], func(s factorSpec) bool { return s.name != "" && s.name == string(text) })
	if at < 0 {
		return fmt.Errorf("unknown factor %q", text)
	}
	*f = Factor(at)
	return nil
}

// check refuses what no instrument shows.
func (f Factor) check(field string, v Value) error {
	s := f.spec()
	if v < s.low || v > s.high {
		return &OutOfRangeError{
			FieldName: field, Low: f.Format(s.low), High: f.Format(s.high),
			Message: fmt.Sprintf("%s %s is outside %s to %s: read it again and check where the point stands",
				f.FormatUnit(v), s.words, f.Format(s.low), f.FormatUnit(s.high)),
		}
	}
	return nil
}
