package domain

import (
	"errors"
	"fmt"
	"maps"

	"barrelhead.example/services/kit/quantity"
)

// ErrStale means that what was decided on has changed meanwhile: read and decide again.
var ErrStale = errors.New("changed since it was read")

// Busy answers when a ticket kept changing under a weighing.
func Busy(ticket string) *Refusal {
	return &Refusal{
		reason: "TRANSACTION_CONFLICT", message: "too many clerks weigh on this ticket at once; nothing was changed, try again",
		metadata: map[string]string{"resource": ticket},
	}
}

// Refusal is a rule that forbids what was asked.
type Refusal struct {
	reason   string
	field    string
	message  string
	metadata map[string]string
}

// Error is the message for people.
func (r *Refusal) Error() string { return r.message }

// Reason is the wire name, e.g. "DRUM_IN_USE".
func (r *Refusal) Reason() string { return r.reason }

// Metadata repeats the variable parts of the message.
func (r *Refusal) Metadata() map[string]string { return maps.Clone(r.metadata) }

// Field is the field of the request at fault, or empty.
func (r *Refusal) Field() string { return r.field }

func invalid(field, format string, args ...any) *Refusal {
	return &Refusal{
		reason: "FIELD_INVALID", field: field, message: fmt.Sprintf(format, args...),
		metadata: map[string]string{"field": field},
	}
}

func outOfRange(field string, low, high string, format string, args ...any) *Refusal {
	return &Refusal{
		reason: "OUT_OF_RANGE", field: field, message: fmt.Sprintf(format, args...),
		metadata: map[string]string{"field": field, "low": low, "high": high},
	}
}

func stateForbids(resource, state, format string, args ...any) *Refusal {
	return &Refusal{
		reason: "STATE_FORBIDS", message: fmt.Sprintf(format, args...),
		metadata: map[string]string{"resource": resource, "state": state},
	}
}

// NotFound answers for what does not exist, and for what the caller may not know of.
func NotFound(resource string) *Refusal {
	return &Refusal{
		reason: "NOT_FOUND", message: resource + " does not exist",
		metadata: map[string]string{"resource": resource},
	}
}

// AlreadyExists answers for an identity that was used before.
func AlreadyExists(resource, format string, args ...any) *Refusal {
	return &Refusal{
		reason: "ALREADY_EXISTS", message: fmt.Sprintf(format, args...),
		metadata: map[string]string{"resource": resource},
	}
}

// DrumInUse answers for a drum that still holds a barrel; barrel is its name, if known.
func DrumInUse(drum, barrel string) *Refusal {
	return &Refusal{
		reason: "DRUM_IN_USE", field: "drum_tag",
		message: fmt.Sprintf("drum %s already holds a barrel that was not emptied: read the tag again, or have the warehouse "+
			"release the drum first", drum),
		metadata: map[string]string{"field": "drum_tag", "drum": drum, "barrel": barrel},
	}
}

// samePerson names who did the first of two steps that need two people.
func samePerson(first, format string, args ...any) *Refusal {
	return &Refusal{
		reason: "SAME_PERSON", message: fmt.Sprintf(format, args...),
		metadata: map[string]string{"first": first},
	}
}

// signed says a weight with its sign always written, for errors of a scale.
func signed(m quantity.Mass, unit quantity.Unit) string {
	if m > 0 {
		return "+" + m.Say(unit)
	}
	return m.Say(unit)
}
