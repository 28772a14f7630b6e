package domain

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"barrelhead.example/services/kit/quantity"
)

// FieldFault is one thing wrong with a request. Path is the field, e.g. "schedule.rows[2].advance".
type FieldFault struct{ Path, Message string }

func (f FieldFault) Error() string { return f.Message }

// Reason is the wire reason.
func (f FieldFault) Reason() string { return "FIELD_INVALID" }

// Field is the path.
func (f FieldFault) Field() string { return f.Path }

// Metadata repeats the path.
func (f FieldFault) Metadata() map[string]string { return map[string]string{"field": f.Path} }

// StateError means that the state of a resource forbids the step.
type StateError struct{ Resource, State, Message string }

func (e *StateError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *StateError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the resource and its state.
func (e *StateError) Metadata() map[string]string {
	return map[string]string{"resource": e.Resource, "state": e.State}
}

// SamePersonError means that one person tried to do both of two steps that need two.
type SamePersonError struct{ First, Message string }

func (e *SamePersonError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *SamePersonError) Reason() string { return "SAME_PERSON" }

// Metadata names who did the first step.
func (e *SamePersonError) Metadata() map[string]string { return map[string]string{"first": e.First} }

// OverlapError means that two schedules of a crop year would begin on the same day.
type OverlapError struct {
	Schedule  string
	CropYear  int
	Effective Date
}

func (e *OverlapError) Error() string {
	return fmt.Sprintf("crop year %d already has an adopted schedule from %s; draft one with another effective date", e.CropYear, e.Effective)
}

// Reason is the wire reason.
func (e *OverlapError) Reason() string { return "SCHEDULE_OVERLAP" }

// Metadata names the schedule in the way.
func (e *OverlapError) Metadata() map[string]string {
	return map[string]string{"resource": e.Schedule, "schedule": e.Schedule, "crop_year": strconv.Itoa(e.CropYear), "effective_date": string(e.Effective)}
}

// TotalError means that two ways to the same total disagree. Nothing may be saved or shown then.
type TotalError struct {
	What      string
	Want, Got quantity.Money
}

func (e *TotalError) Error() string {
	return fmt.Sprintf("%s should be %v and is %v; nothing was changed. Report this to the office", e.What, e.Want, e.Got)
}

// Reason is the wire reason.
func (e *TotalError) Reason() string { return "TOTAL_DISAGREES" }

// Metadata gives the difference.
func (e *TotalError) Metadata() map[string]string {
	return map[string]string{"total": e.What, "difference": (e.Got - e.Want).String()}
}

// mustAgree is the comparison behind every total that is reached in two ways.
func mustAgree(what string, want, got quantity.Money) error {
	if want != got {
		return &TotalError{What: what, Want: want, Got: got}
	}
	return nil
}

// listed joins the keys of a set for a message.
func listed[V any](set map[string]V) string {
	return strings.Join(slices.Sorted(maps.Keys(set)), ", ")
}
