package domain

import (
	"errors"
	"fmt"
)

// RawReading is what an instrument showed, before anything is worked out from it.
type RawReading struct {
	Kind Kind
	// Value and Temperature as entered; an empty temperature means 20.0 °C.
	Value, Temperature string
}

// MeasureAll measures each reading as the bench does and sets its reported value. A factor that is given already, as a value
// or by an earlier reading, is refused: nobody could say which of the two was judged. Errors: *FieldError,
// *OutOfRangeError, all at once.
func (q *Question) MeasureAll(readings []RawReading) ([]Measurement, error) {
	measured := make([]Measurement, 0, len(readings))
	var faults []error
	for i, r := range readings {
		m, err := Measure(r.Kind, r.Value, r.Temperature)
		if err == nil {
			err = q.setOnce(m)
		}
		if err != nil {
			faults = append(faults, inReading(i, err))
		}
		measured = append(measured, m)
	}
	return measured, joined(faults)
}

func (q *Question) setOnce(m Measurement) error {
	if q.given[m.Factor] {
		return &FieldError{"kind", fmt.Sprintf("%s is given twice: give it as a value or as one reading", m.Factor.Words())}
	}
	q.values[m.Factor], q.given[m.Factor] = m.Reported, true
	return nil
}

// inReading says in which of several readings a field is at fault.
func inReading(i int, err error) error {
	at := func(field string) string { return fmt.Sprintf("raw_readings[%d].%s", i, field) }
	var field *FieldError
	var out *OutOfRangeError
	switch {
	case errors.As(err, &field):
		return &FieldError{at(field.FieldName), field.Message}
	case errors.As(err, &out):
		return &OutOfRangeError{at(out.FieldName), out.Low, out.High, out.Message}
	default:
		return err
	}
}
