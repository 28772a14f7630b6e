package netcontent

import "fmt"

// MostTares is how many empty packages may be weighed for a tare, FewestTares how few; ten are common practice, no source.
const (
	FewestTares = 2
	MostTares   = 48
)

// Tare is the average of empty packages, rounded half up to a ten-thousandth where it enters the record.
func Tare(empties []Weight) Weight {
	mean, _ := moments(empties)
	return half(mean)
}

// Tared takes the tare of empty packages off weights that were gross. It fails with a *LightError for a package lighter than an empty one.
func (s Sample) Tared(empties []Weight) (Sample, error) {
	s.Tares = empties
	tare, gross := Tare(empties), s.Weights
	s.Weights = make([]Weight, len(gross))
	for i, w := range gross {
		if w < tare {
			return s, &LightError{Package: i, Weight: w, Tare: tare, Unit: s.Unit}
		}
		s.Weights[i] = w - tare
	}
	return s, nil
}

// LightError means that a package weighs less than an empty one.
type LightError struct {
	Package      int
	Weight, Tare Weight
	Unit         Unit
}

// Error gives both weights.
func (e *LightError) Error() string {
	return fmt.Sprintf("is %s %s, less than the %s %s of an empty package: give gross weights beside a tare", e.Weight, e.Unit, e.Tare, e.Unit)
}
