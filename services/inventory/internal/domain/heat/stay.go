package heat

import (
	"fmt"
	"strings"
)

// Stay is some time of fills in the warmth.
type Stay struct {
	ID string
	// Limit is the warmest it is meant to be.
	Limit Celsius
	// Second is the other person who stands by; empty for none.
	Second string
}

const (
	// RoomLimit is 120 °F, the upper end of a hot room; common practice, no source.
	RoomLimit Celsius = 49_0
	// Scalding is 145 °F, where honey scalds people and yeast dies within half an hour (conservative figure, from memory).
	Scalding Celsius = 62_8
)

// Allow fails where a stay may become scalding and nobody but the actor is there.
func (s Stay) Allow(actor string) error {
	other := strings.TrimSpace(s.Second)
	alone := other == "" || strings.EqualFold(strings.TrimPrefix(other, "users/"), strings.TrimPrefix(actor, "users/"))
	if s.Limit >= Scalding && alone {
		return &AloneError{Limit: s.Limit}
	}
	return nil
}

// AloneError means that a second person is missing.
type AloneError struct{ Limit Celsius }

// Error says who is asked for.
func (e *AloneError) Error() string {
	return fmt.Sprintf("%s °C is at or above %s °C (145 °F): name another person who stands by", e.Limit, Scalding)
}

// Reason is the wire reason.
func (e *AloneError) Reason() string { return "REASON_REQUIRED" }

// Field is the field that is asked for.
func (e *AloneError) Field() string { return "second_person" }

// Metadata names the field that is asked for.
func (e *AloneError) Metadata() map[string]string { return map[string]string{"field": e.Field()} }
