package stock

import (
	"cmp"
	"fmt"
	"strings"
)

// HeldError means that a hold forbids the action.
type HeldError struct {
	What   string // e.g. "drum FC-00442"
	Hold   Hold
	Action string
}

// Error names the hold that must go first.
func (e *HeldError) Error() string {
	return fmt.Sprintf("%s is on hold (%s: %s) since %s and cannot be %s until someone other than %s releases it",
		e.What, strings.ToLower(string(e.Hold.Code)), e.Hold.Reason, e.Hold.Time.UTC().Format("2006-01-02 15:04 UTC"), e.Action, e.Hold.Placer)
}

// Reason is the wire reason.
func (e *HeldError) Reason() string { return "ON_HOLD" }

// Metadata names the hold and its code.
func (e *HeldError) Metadata() map[string]string {
	return map[string]string{"hold": HoldName(e.Hold.ID), "code": string(e.Hold.Code)}
}

// StateError means that the state of a resource forbids the action. Called is what people call the resource; empty where only its
// name is known.
type StateError struct{ Resource, Called, State, Action string }

// Error says what the state is.
func (e *StateError) Error() string {
	return fmt.Sprintf("%s %s and cannot be %s", cmp.Or(e.Called, e.Resource), spoken(e.State), e.Action)
}

// spoken says a state in plain words: what a name for programs would not tell a clerk is told otherwise.
func spoken(state string) string {
	switch state {
	case "SAME_TANK":
		return "is in the same tank"
	case "JARS":
		return "came back in jars"
	case "BULK":
		return "came back in bulk"
	case "NAMED_TWICE":
		return "is named twice"
	case "WITHOUT_NET_CONTENT":
		return "has no net content"
	case "WARMS_OTHERS":
		return "warms other barrels"
	case "LIMITED":
		return "has a limit"
	case "BEGUN":
		return "has begun"
	default:
		return "is " + strings.ToLower(strings.ReplaceAll(state, "_", " "))
	}
}

// Reason is the wire reason.
func (e *StateError) Reason() string { return "STATE_FORBIDS" }

// Metadata names resource and state.
func (e *StateError) Metadata() map[string]string {
	return map[string]string{"resource": e.Resource, "state": e.State}
}

// ReleasedError means that the hold ended before.
type ReleasedError struct{ Hold Hold }

// Error says who released it and when.
func (e *ReleasedError) Error() string {
	return fmt.Sprintf("this hold was released by %s at %s already", e.Hold.Release.Releaser, e.Hold.Release.Time.UTC().Format("2006-01-02 15:04 UTC"))
}

// Reason is the wire reason.
func (e *ReleasedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the hold.
func (e *ReleasedError) Metadata() map[string]string {
	return map[string]string{"resource": HoldName(e.Hold.ID), "state": "RELEASED"}
}

// SamePersonError means that the placer of a hold tried to release it.
type SamePersonError struct{ First string }

// Error names the placer.
func (e *SamePersonError) Error() string {
	return fmt.Sprintf("%s placed this hold: another person must release it", e.First)
}

// Reason is the wire reason.
func (e *SamePersonError) Reason() string { return "SAME_PERSON" }

// Metadata names the placer.
func (e *SamePersonError) Metadata() map[string]string { return map[string]string{"first": e.First} }

// ChangedError means that the item is not what the caller read.
type ChangedError struct{ Resource, Called, Current string }

// Error asks to read again.
func (e *ChangedError) Error() string {
	return cmp.Or(e.Called, e.Resource) + " was changed by someone else; read it again and repeat the change"
}

// Reason is the wire reason.
func (e *ChangedError) Reason() string { return "ETAG_MISMATCH" }

// Metadata repeats the etag of now.
func (e *ChangedError) Metadata() map[string]string {
	return map[string]string{"resource": e.Resource, "etag": e.Current}
}

// NotFoundError means that there is no such resource.
type NotFoundError struct{ Resource string }

// Error is the message for people.
func (e *NotFoundError) Error() string { return e.Resource + " does not exist" }

// Reason is the wire reason.
func (e *NotFoundError) Reason() string { return "NOT_FOUND" }

// Metadata names it.
func (e *NotFoundError) Metadata() map[string]string {
	return map[string]string{"resource": e.Resource}
}
