package domain

import (
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/checkdigit"
)

// Sample is what the laboratory knows of a jar: a code and nothing that could say whose it is.
type Sample struct {
	// Code as on the jar, with its check character.
	Code string
	// Variety is the declared floral source, lower case.
	Variety  string
	CropYear int32
	DrawTime time.Time
	// Original is the code of the sample this jar is a duplicate of; empty for a sample.
	Original string
}

// Name is the resource name.
func (s Sample) Name() string { return SampleName(s.Code) }

// SampleName is the resource name of a code.
func SampleName(code string) string { return samplePrefix + code }

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
	// Pending is a sample with a reading that a failed control put in doubt.
	Pending
)

// ParseSampleState reads what String wrote; anything else is zero.
func ParseSampleState(name string) SampleState {
	for s := Waiting; s <= Pending; s++ {
		if s.String() == name {
			return s
		}
	}
	return 0
}

// String is the name without prefix.
func (s SampleState) String() string {
	switch s {
	case Waiting:
		return "WAITING"
	case Measured:
		return "MEASURED"
	case Certified:
		return "CERTIFIED"
	case Pending:
		return "PENDING"
	default:
		return "UNSPECIFIED"
	}
}

// Reading is one measurement as recorded. It is never edited; a new one names what it replaces. Certificates store copies:
// names in JSON stay for ever.
type Reading struct {
	ID       uuid.UUID `json:"id"`
	Sample   string    `json:"sample"`
	Kind     Kind      `json:"kind"`
	Factor   Factor    `json:"factor"`
	RawValue string    `json:"raw_value"`
	// Temperature in °C as entered; empty means 20.0.
	Temperature string    `json:"temperature_c"`
	Reported    Value     `json:"reported"`
	Computed    Value     `json:"computed"`
	Instrument  string    `json:"instrument"`
	Analyst     string    `json:"analyst"`
	Time        time.Time `json:"time"`
	// Replaces is nil for a first reading.
	Replaces *uuid.UUID `json:"replaces"`
	// Reason is why it was measured again.
	Reason string `json:"reason"`
	// Mean is true for the mean of a borderline reading and two more; RawValue then holds the two.
	Mean bool `json:"mean,omitempty"`
	// Portion it was read on; empty is A.
	Portion     string `json:"portion,omitempty"`
	Explanation string `json:"explanation"`
}

// Name is the resource name.
func (r *Reading) Name() string { return ReadingName(r.ID) }

// ReadingName is the resource name of an id.
func ReadingName(id uuid.UUID) string { return "readings/" + id.String() }

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
	replaced := standing.ID
	in.Replaces = &replaced
	return in, nil
}

// StateOf is where a sample stands: what is measured, whether some of that is in doubt, and whether a certificate stands.
func StateOf(standard *Standard, measured func(Factor) bool, doubted, certified bool) SampleState {
	switch {
	case doubted:
		return Pending
	case certified:
		return Certified
	}
	for _, f := range standard.Required(Strained) {
		if !measured(f) {
			return Waiting
		}
	}
	return Measured
}
