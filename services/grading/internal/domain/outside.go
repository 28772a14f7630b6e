package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// OutsideState is where a keyed figure stands.
type OutsideState string

// States. A figure counts once two people keyed the same.
const (
	Keyed     OutsideState = "KEYED"
	Confirmed OutsideState = "CONFIRMED"
	Withdrawn OutsideState = "WITHDRAWN"
)

// OutsideResult is one figure of an outside laboratory's report.
type OutsideResult struct {
	ID                 uuid.UUID
	Sample             string
	Analyte            Analyte
	Found              Found
	Laboratory, Report string
	Keyer              string
	KeyTime            time.Time
	// Second is nil until it is confirmed or withdrawn.
	Second *OutsideSecond
}

// OutsideSecond ends a keying.
type OutsideSecond struct {
	Confirmed   bool
	Login       string
	Time        time.Time
	Reason      string
	Over        bool
	Reading     *uuid.UUID
	Explanation string
}

const outsidePrefix = "outsideResults/"

// OutsideName is the resource name of an id.
func OutsideName(id uuid.UUID) string { return outsidePrefix + id.String() }

// OutsideID reads the id out of a resource name. A name that cannot be one answers like one that does not exist.
func OutsideID(name string) (uuid.UUID, error) { return parseID(outsidePrefix, name) }

// Name is the resource name.
func (r *OutsideResult) Name() string { return OutsideName(r.ID) }

// State follows from the second step.
func (r *OutsideResult) State() OutsideState {
	switch {
	case r.Second == nil:
		return Keyed
	case r.Second.Confirmed:
		return Confirmed
	default:
		return Withdrawn
	}
}

// MismatchError is a figure keyed differently by two people. Reason STATE_FORBIDS.
type MismatchError struct {
	Resource             string
	First, Second        string
	FirstBy, SecondBy    string
	Unit, AnalyteInWords string
}

// Error is the message for people.
func (e *MismatchError) Error() string {
	return fmt.Sprintf("%s keyed %s %s of %s and %s keyed %s: look at the report together; confirm the first, or withdraw it and key it anew",
		e.FirstBy, e.First, e.Unit, e.AnalyteInWords, e.SecondBy, e.Second)
}

// Reason is the wire reason.
func (e *MismatchError) Reason() string { return "STATE_FORBIDS" }

// Metadata names both keyings.
func (e *MismatchError) Metadata() map[string]string {
	return map[string]string{
		"resource": e.Resource, "state": "MISMATCH", "first_value": e.First, "second_value": e.Second, "first": e.FirstBy, "second": e.SecondBy,
	}
}

// Confirm compares the second keying with the first. Errors: *StateError, *SamePersonError, *FieldError, *MismatchError.
func (r *OutsideResult) Confirm(value, who string, at time.Time) (OutsideSecond, error) {
	if err := r.mustBeOpen(); err != nil {
		return OutsideSecond{}, err
	}
	if r.Keyer == who {
		return OutsideSecond{}, &SamePersonError{First: who, Message: fmt.Sprintf(
			"%s keyed this result first: a second person must key it again from the report", who)}
	}
	found, err := r.Analyte.ParseFound(value)
	if err != nil {
		return OutsideSecond{}, err
	}
	if found != r.Found {
		return OutsideSecond{}, &MismatchError{
			Resource: r.Name(), First: r.Found.String(), Second: found.String(), FirstBy: r.Keyer, SecondBy: who,
			Unit: r.Analyte.Unit, AnalyteInWords: r.Analyte.Words,
		}
	}
	over, words := r.Analyte.Over(found)
	return OutsideSecond{Confirmed: true, Login: who, Time: at, Over: over, Explanation: sentence(words + ".")}, nil
}

// Withdraw takes the first keying back. Errors: *StateError.
func (r *OutsideResult) Withdraw(reason, who string, at time.Time) (OutsideSecond, error) {
	return OutsideSecond{Login: who, Time: at, Reason: reason, Explanation: sentence(fmt.Sprintf("%s took the figure back: %s.", who, reason))}, r.mustBeOpen()
}

func (r *OutsideResult) mustBeOpen() error {
	if r.Second == nil {
		return nil
	}
	return &StateError{r.Name(), string(r.State()), fmt.Sprintf(
		"this result of report %s is %s already by %s", r.Report, map[OutsideState]string{Confirmed: "confirmed", Withdrawn: "withdrawn"}[r.State()], r.Second.Login)}
}

// ReadingRaw is the figure as the bench takes it: a limit of detection counts as itself, the worst it can be where a
// standard asks for at most something.
func (f Found) ReadingRaw() string { return f.Value.Format(1) }
