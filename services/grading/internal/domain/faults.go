package domain

import (
	"errors"
	"fmt"
	"maps"
)

// FieldError is a field of a request that cannot be understood. Reason FIELD_INVALID.
type FieldError struct {
	FieldName string
	Message   string
}

// Error is the message for people.
func (e *FieldError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *FieldError) Reason() string { return "FIELD_INVALID" }

// Metadata repeats the field.
func (e *FieldError) Metadata() map[string]string { return map[string]string{"field": e.FieldName} }

// Field is the field of the request.
func (e *FieldError) Field() string { return e.FieldName }

// OutOfRangeError is a value that cannot be measured. Reason OUT_OF_RANGE.
type OutOfRangeError struct {
	FieldName, Low, High string
	Message              string
}

// Error is the message for people.
func (e *OutOfRangeError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *OutOfRangeError) Reason() string { return "OUT_OF_RANGE" }

// Metadata holds the field and its limits.
func (e *OutOfRangeError) Metadata() map[string]string {
	return map[string]string{"field": e.FieldName, "low": e.Low, "high": e.High}
}

// Field is the field of the request.
func (e *OutOfRangeError) Field() string { return e.FieldName }

// ReasonRequiredError is a repeated step that was not explained. Reason REASON_REQUIRED.
type ReasonRequiredError struct {
	Message string
	Meta    map[string]string
}

// Error is the message for people.
func (e *ReasonRequiredError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *ReasonRequiredError) Reason() string { return "REASON_REQUIRED" }

// Metadata names the field to fill, and what is being replaced.
func (e *ReasonRequiredError) Metadata() map[string]string {
	m := map[string]string{"field": e.Field()}
	maps.Copy(m, e.Meta)
	return m
}

// Field is always "reason".
func (e *ReasonRequiredError) Field() string { return "reason" }

// StateError is a step the state of a resource forbids. Reason STATE_FORBIDS.
type StateError struct {
	Resource, State string
	Message         string
}

// Error is the message for people.
func (e *StateError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *StateError) Reason() string { return "STATE_FORBIDS" }

// Metadata holds the resource and its state.
func (e *StateError) Metadata() map[string]string {
	return map[string]string{"resource": e.Resource, "state": e.State}
}

// SamePersonError is a check by the person who did what is to be checked. Reason SAME_PERSON.
type SamePersonError struct {
	First   string
	Message string
}

// Error is the message for people.
func (e *SamePersonError) Error() string { return e.Message }

// Reason is the wire reason.
func (e *SamePersonError) Reason() string { return "SAME_PERSON" }

// Metadata names who did the first step.
func (e *SamePersonError) Metadata() map[string]string { return map[string]string{"first": e.First} }

// NotFoundError is a resource that does not exist. Reason NOT_FOUND.
type NotFoundError struct{ Resource, Message string }

// Error is the message for people.
func (e *NotFoundError) Error() string {
	if e.Message != "" {
		return e.Message
	}
	return e.Resource + " does not exist"
}

// Reason is the wire reason.
func (e *NotFoundError) Reason() string { return "NOT_FOUND" }

// Metadata names the resource.
func (e *NotFoundError) Metadata() map[string]string {
	return map[string]string{"resource": e.Resource}
}

// parseField reads a decimal field and names the field in what is wrong.
func parseField(field, s string, parse func(string) (int64, error)) (int64, error) {
	v, err := parse(s)
	if err != nil {
		return 0, &FieldError{FieldName: field, Message: fmt.Sprintf("%s: %v", field, err)}
	}
	return v, nil
}

// joined is nil, the one error, or all of them.
func joined(faults []error) error {
	if len(faults) == 1 {
		return faults[0]
	}
	return errors.Join(faults...)
}

// TakenError is an identity that is in use. Reason ALREADY_EXISTS.
type TakenError struct{ Resource, Message string }

// Error is the message for people.
func (e *TakenError) Error() string {
	if e.Message != "" {
		return e.Message
	}
	return e.Resource + " exists already: choose another id"
}

// Reason is the wire reason.
func (e *TakenError) Reason() string { return "ALREADY_EXISTS" }

// Metadata names the resource.
func (e *TakenError) Metadata() map[string]string { return map[string]string{"resource": e.Resource} }
