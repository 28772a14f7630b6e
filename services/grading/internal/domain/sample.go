package domain

import (
	"strings"
	"time"

	"barrelhead.example/services/kit/checkdigit"
	"github.com/google/uuid"
)

// Sample is what the laboratory knows of a jar: a code and nothing that could say whose it is.
type Sample struct {
	// Code as on the jar, with its check character.
	Code string
	// Variety is the declared floral source, lower case.
	Variety  string
	CropYear int32
	DrawTime time.Time
}

// Name is the resource name.
func (s Sample) Name() string { return samplePrefix + s.Code }

const samplePrefix = "samples/"

// SampleCode reads a blind code out of a resource name and catches a mistyped character. field names the field of the
// request. Errors: *FieldError.
func SampleCode(field, name string) (string, error) {
	code, ok := strings.CutPrefix(name, samplePrefix)
	if !ok {
		return "", &FieldError{field, field + ` must look like "samples/" and the code on the jar`}
	}
	code = strings.ToUpper(code)
	if err := checkdigit.ValidCode(code); err != nil {
		return "", &FieldError{field, err.Error() + ": compare it with the jar"}
	}
	return code, nil
}

// SampleState is where a sample stands.
type SampleState int

// The states.
const (
	Waiting SampleState = iota + 1
	Measured
	Certified
)

// String is the name without prefix.
func (s SampleState) String() string {
	return [...]string{"UNSPECIFIED", "WAITING", "MEASURED", "CERTIFIED"}[s]
}

// Reading is one measurement as recorded. It is never edited; a new one names what it replaces.
type Reading struct {
	ID       uuid.UUID
	Sample   string
	Kind     Kind
	Factor   Factor
	RawValue string
	// Temperature in °C as entered; empty means 20.0.
	Temperature        string
	Reported, Computed Value
	Instrument         string
	Analyst            string
	Time               time.Time
	// Replaces is nil for a first reading.
	Replaces *uuid.UUID
	// Reason is why it was measured again.
	Reason      string
	Explanation string
}

// Name is the resource name.
func (r *Reading) Name() string { return "readings/" + r.ID.String() }

// NewReading measures anew. standing is the reading of the same factor that stands, nil for none. Errors: those of
// Measure, *ReasonRequiredError.
func NewReading(in Reading, standing *Reading) (Reading, error) {
	m, err := Measure(in.Kind, in.RawValue, in.Temperature)
	if err != nil {
		return Reading{}, err
	}
	in.Factor, in.Computed, in.Reported, in.Explanation = m.Factor, m.Computed, m.Reported, m.Explanation
	if standing == nil {
		in.Reason = ""
		return in, nil
	}
	if strings.TrimSpace(in.Reason) == "" {
		return Reading{}, &ReasonRequiredError{
			Message: "the sample already has a reading of " + m.Factor.Words() + " (" + m.Factor.FormatUnit(standing.Reported) +
				" by " + standing.Analyst + "): say in reason why it is measured again",
			Meta: map[string]string{"reading": standing.Name()},
		}
	}
	in.Replaces = &standing.ID
	return in, nil
}

// StateOf is where a sample stands, given the factors that have a standing reading.
func StateOf(standard *Standard, measured func(Factor) bool, certified bool) SampleState {
	if certified {
		return Certified
	}
	for _, f := range standard.Required(Strained) {
		if !measured(f) {
			return Waiting
		}
	}
	return Measured
}
