package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Composite is equal masses of several samples in one jar under a blind code of its own.
type Composite struct {
	Code      string
	Variety   string
	CropYear  int32
	GramsEach Value
	Samples   []string
	Creator   string
	Time      time.Time
}

const compositePrefix = "composites/"

// Name is the resource name.
func (c *Composite) Name() string { return CompositeName(c.Code) }

// CompositeName is the resource name of a code.
func CompositeName(code string) string { return compositePrefix + code }

// CompositeCode reads a code out of a resource name. Errors: *FieldError.
func CompositeCode(field, name string) (string, error) {
	return SampleCode(field, samplePrefix+strings.TrimPrefix(name, compositePrefix))
}

const (
	fewestInComposite = 2
	// mostInComposite keeps a residue at the house limit in one sample above what laboratories detect (common practice, no
	// source).
	mostInComposite = 20
	mostGrams       = 500 * one
)

// CompositeOf checks what goes in: equal masses of different samples of one source and crop year, no duplicate jars. Whose
// they are is not known here, so that one member's barrels go together is the dock's to see to. Not even a token says which
// jars belong together: who knew one of them would know all. Members mixed by mistake cost a second test and wrong nobody,
// for a composite condemns no jar. Errors: *FieldError, all at once.
func CompositeOf(members []Sample, gramsEach string) (Composite, error) {
	var faults []error
	fault := func(field, format string, args ...any) {
		faults = append(faults, &FieldError{field, fmt.Sprintf(format, args...)})
	}
	grams, err := parseValueField("grams_each", gramsEach)
	switch {
	case err != nil:
		faults = append(faults, err)
	case grams <= 0 || grams > mostGrams:
		fault("grams_each", "is %s g: take over 0 and at most 500 g of each", gramsEach)
	}
	if len(members) < fewestInComposite || len(members) > mostInComposite {
		fault("samples", "a composite has %d to %d samples, not %d", fewestInComposite, mostInComposite, len(members))
		return Composite{}, joined(faults)
	}
	c := Composite{Variety: members[0].Variety, CropYear: members[0].CropYear, GramsEach: grams}
	for i, s := range members {
		field := fmt.Sprintf("samples[%d]", i)
		switch {
		case slices.Contains(c.Samples, s.Code):
			fault(field, "%s is named twice", s.Name())
		case s.Original != "":
			fault(field, "%s is a duplicate jar: take the sample it belongs to", s.Name())
		case s.Variety != c.Variety || s.CropYear != c.CropYear:
			fault(field, "%s is %s of %d, the first is %s of %d: mix only like with like", s.Name(), s.Variety, s.CropYear, c.Variety, c.CropYear)
		}
		c.Samples = append(c.Samples, s.Code)
	}
	slices.Sort(c.Samples)
	return c, joined(faults)
}

// ExpectedMoisture is the mean of the members' water; false while one is not measured.
func (c *Composite) ExpectedMoisture(standing map[string][]Reading) (Value, bool) {
	parts := make([]Part, 0, len(c.Samples))
	for _, code := range c.Samples {
		r := standingOf(standing[code], Moisture)
		if r == nil {
			return 0, false
		}
		parts = append(parts, Part{Mass: int64(c.GramsEach), Value: r.Reported})
	}
	v, err := Mix(parts)
	return v, err == nil
}

// Suspect is where a sample stands with one analyte.
type Suspect struct {
	Analyte string
	// Result that raised it.
	Result uuid.UUID
	// Ended by a test of the sample itself, which confirmed or cleared it.
	Ended, Confirmed bool
}

// Suspicion sums up what is suspected of a sample.
type Suspicion string

// Suspicions, the worst first.
const (
	SuspicionConfirmed Suspicion = "CONFIRMED"
	SuspicionOpen      Suspicion = "OPEN"
	SuspicionCleared   Suspicion = "CLEARED"
	NoSuspicion        Suspicion = "UNSPECIFIED"
)

// SumUp is the worst of the suspicions, and the analytes still to be tested.
func SumUp(list []Suspect) (Suspicion, []string) {
	sum := NoSuspicion
	var open []string
	for _, s := range list {
		switch {
		case s.Ended && s.Confirmed:
			sum = SuspicionConfirmed
		case !s.Ended:
			if sum != SuspicionConfirmed {
				sum = SuspicionOpen
			}
			if !slices.Contains(open, s.Analyte) {
				open = append(open, s.Analyte)
			}
		case sum == NoSuspicion:
			sum = SuspicionCleared
		}
	}
	slices.Sort(open)
	return sum, open
}

// Disposition is what becomes of honey with a confirmed residue.
type Disposition string

// Disposal is the decision on it.
type Disposal struct {
	Sample      string
	Disposition Disposition
	Reason      string
	Decider     string
	Time        time.Time
}

// MayDispose decides whether a sample may be disposed of. keyers are all who keyed a result of it. Errors: *StateError,
// *SamePersonError.
func MayDispose(sample string, sum Suspicion, keyers []string, before *Disposal, who string) error {
	name := SampleName(sample)
	switch {
	case before != nil:
		return &StateError{name, "DISPOSED", fmt.Sprintf("%s decided on %s already: %s", before.Decider, name, strings.ToLower(string(before.Disposition)))}
	case sum != SuspicionConfirmed:
		return &StateError{name, string(sum), name + " has no confirmed residue: there is nothing to dispose of"}
	case slices.Contains(keyers, who):
		return &SamePersonError{First: who, Message: fmt.Sprintf("%s keyed a result of %s and may not decide what becomes of it: ask another person", who, name)}
	}
	return nil
}
