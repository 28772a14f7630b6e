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
	// Second is the other person who stands by, and Why the honey must be so hot; empty for none.
	Second, Why string
}

const (
	// RoomLimit is 120 °F, the upper end of a hot room; common practice, no source.
	RoomLimit Celsius = 49_0
	// Scalding is 145 °F, where honey scalds people and yeast dies within half an hour (conservative figure, from memory).
	Scalding Celsius = 62_8
)

// Allow fails where a stay may become scalding and nobody but the actor is there, or nobody said why.
func (s Stay) Allow(actor string) error {
	other := strings.TrimSpace(s.Second)
	switch {
	case s.Limit < Scalding:
		return nil
	case other == "" || strings.EqualFold(strings.TrimPrefix(other, "users/"), strings.TrimPrefix(actor, "users/")):
		return &ScaldingError{Limit: s.Limit, Missing: "second_person"}
	case strings.TrimSpace(s.Why) == "":
		return &ScaldingError{Limit: s.Limit, Missing: "second_reason"}
	default:
		return nil
	}
}

// ScaldingError means that a second person or that person's reason is missing.
type ScaldingError struct {
	Limit   Celsius
	Missing string
}

// Error says what is asked for.
func (e *ScaldingError) Error() string {
	what := "name another person who stands by"
	if e.Missing == "second_reason" {
		what = "say why that person lets it be so hot"
	}
	return fmt.Sprintf("%s °C is at or above %s °C (145 °F): %s", e.Limit, Scalding, what)
}

// Reason is the wire reason.
func (e *ScaldingError) Reason() string { return "REASON_REQUIRED" }

// Field is the field that is asked for.
func (e *ScaldingError) Field() string { return e.Missing }

// Metadata names the field that is asked for.
func (e *ScaldingError) Metadata() map[string]string { return map[string]string{"field": e.Field()} }
