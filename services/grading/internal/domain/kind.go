package domain

import (
	"fmt"
	"slices"
)

// Kind is a method of measurement.
type Kind int

// The methods, named on the wire as their text forms.
const (
	RefractiveIndex Kind = iota + 1
	MoisturePercent
	Brix
	PfundMM
	Absorbance635
	FlavorPoints
	DefectsPoints
	ClarityPoints
	// The rest are results of an outside laboratory, entered as printed.
	HMFResult
	DiastaseResult
	ConductivityResult
	SugarsResult
	SucroseResult
	AcidityResult
	InsolublesResult
	DensityResult
	HoneydewResult
	// Further methods for water and colour.
	SpecificGravity
	DensityGramsPerML
	Transmittance560
	OpticalDensity560
	kindEnd
)

type kindSpec struct {
	name   string
	factor Factor
	// measure turns the raw number, in millionths, into a value cut to four digits and says how.
	measure func(in measuring) (Value, string, error)
}

var kindSpecs = [kindEnd]kindSpec{
	RefractiveIndex: {"REFRACTIVE_INDEX", Moisture, moistureByIndex},
	MoisturePercent: {"MOISTURE_PERCENT", Moisture, asRead},
	Brix:            {"BRIX", Moisture, moistureByBrix},
	PfundMM:         {"PFUND_MM", Color, asRead},
	Absorbance635:   {"ABSORBANCE_635", Color, pfundByAbsorbance},
	FlavorPoints:    {"FLAVOR", Flavor, wholePoints},
	DefectsPoints:   {"DEFECTS", Defects, wholePoints},
	ClarityPoints:   {"CLARITY", Clarity, wholePoints},

	HMFResult:          {"HMF", HMF, asRead},
	DiastaseResult:     {"DIASTASE", Diastase, asRead},
	ConductivityResult: {"CONDUCTIVITY", Conductivity, asRead},
	SugarsResult:       {"SUGARS", Sugars, asRead},
	SucroseResult:      {"SUCROSE", Sucrose, asRead},
	AcidityResult:      {"ACIDITY", Acidity, asRead},
	InsolublesResult:   {"INSOLUBLES", Insolubles, asRead},
	DensityResult:      {"DENSITY", Density, asRead},
	HoneydewResult:     {"HONEYDEW", Honeydew, asRead},

	SpecificGravity:   {"SPECIFIC_GRAVITY", Moisture, moistureByGravity},
	DensityGramsPerML: {"DENSITY_G_PER_ML", Moisture, moistureByDensity},
	Transmittance560:  {"TRANSMITTANCE_560", Color, pfundByTransmittance},
	OpticalDensity560: {"OPTICAL_DENSITY_560", Color, pfundByOpticalDensity},
}

// Kinds lists every method.
func Kinds() []Kind {
	all := make([]Kind, 0, kindEnd-1)
	for k := RefractiveIndex; k < kindEnd; k++ {
		all = append(all, k)
	}
	return all
}

// String is the name without prefix, e.g. "REFRACTIVE_INDEX".
func (k Kind) String() string {
	if k <= 0 || k >= kindEnd {
		return "UNSPECIFIED"
	}
	return kindSpecs[k].name
}

// Factor is what the method decides.
func (k Kind) Factor() Factor {
	if k <= 0 || k >= kindEnd {
		return 0
	}
	return kindSpecs[k].factor
}

// MarshalText is String.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads a name; an unknown one is an error.
func (k *Kind) UnmarshalText(text []byte) error {
	at := slices.IndexFunc(kindSpecs[:], func(s kindSpec) bool { return s.name != "" && s.name == string(text) })
	if at < 0 {
		return fmt.Errorf("unknown method %q", text)
	}
	*k = Kind(at)
	return nil
}
