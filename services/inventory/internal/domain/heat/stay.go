package heat

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Stay is some time of fills in the warmth.
type Stay struct {
	ID string
	// Limit is the warmest it is meant to be.
	Limit Celsius
	// Opener is the login that recorded its first readings. Whoever records later ones, a logger too, changes nothing of that.
	Opener string
	// Allowances are what anybody said of it before its first readings, the oldest first.
	Allowances []Allowance
	// Typed was said to stand by, and Why, at a scalding limit of before people allowed one by their login; empty otherwise.
	Typed, Why string
}

const (
	// RoomLimit is 120 °F, the upper end of a hot room; common practice, no source.
	RoomLimit Celsius = 49_0
	// Scalding is 145 °F, where honey scalds people and yeast dies within half an hour (conservative figure, from memory).
	Scalding Celsius = 62_8
	// Boiling bounds what a stay may be meant to be, and what a probe in a honey house can show.
	Boiling Celsius = 120_0
)

// Allowance is the word of a logged-in person that a stay may be scalding hot. It is given before the first readings, and none takes
// back another: of several, each is worth what it says.
type Allowance struct {
	ID     uuid.UUID
	Number int64
	// Stay is the id of the stay.
	Stay string
	// Limit is the warmest it may be, from Scalding to Boiling.
	Limit           Celsius
	Reason, Allower string
	Time            time.Time
	// Opener is the login that recorded the first readings since; empty while nobody did.
	Opener string
}

// Name is the resource name.
func (a Allowance) Name() string { return "heatAllowances/" + a.ID.String() }

// Check fails for a limit that is none of an allowance.
func (a Allowance) Check() error {
	if a.Limit < Scalding || a.Limit > Boiling {
		return fmt.Errorf("%s °C is not from %s °C (145 °F) to %s °C: less needs nobody's word", a.Limit, Scalding, Boiling)
	}
	return nil
}

// Others are the allowances by another login than the opener's: only those count. Since the two are told apart by the first readings,
// nobody allows a stay and opens it too, whoever records the rest.
func (s Stay) Others() (out []Allowance) {
	for _, a := range s.Allowances {
		if a.Allower != s.Opener {
			out = append(out, a)
		}
	}
	return out
}

// Second is the allowance a scalding limit rests on: the oldest that counts and is as high, so that nothing said later weakens it.
// Nil for a limit that is not scalding, and without one.
func (s Stay) Second() *Allowance {
	if s.Limit < Scalding {
		return nil
	}
	for _, a := range s.Others() {
		if a.Limit >= s.Limit {
			return &a
		}
	}
	return nil
}

// Open fails with an *UnallowedError for a new stay that may become scalding and that nobody else allowed.
func (s Stay) Open() error {
	if s.Limit < Scalding || s.Second() != nil {
		return nil
	}
	e := &UnallowedError{Stay: s.ID, Limit: s.Limit, Opener: s.Opener}
	for _, a := range s.Allowances {
		if a.Allower == s.Opener {
			e.Own = true
		} else {
			e.Most = max(e.Most, a.Limit)
		}
	}
	return e
}

// UnopenedError means that a logger sent readings of a stay nobody opened: what it warms, and how warm it is meant to be, is a person's word.
type UnopenedError struct{ Stay string }

// Error says who must do what.
func (e *UnopenedError) Error() string {
	return fmt.Sprintf("stay %s has no readings yet: somebody of the warehouse or the line opens it with a first one; a logger adds to it after that", e.Stay)
}

// Reason is the wire reason.
func (*UnopenedError) Reason() string { return "STATE_FORBIDS" }

// Metadata names the stay.
func (e *UnopenedError) Metadata() map[string]string {
	return map[string]string{"resource": "heatStays/" + e.Stay, "state": "NOT_OPENED"}
}

// lets reports whether a reading was allowed by another person: beforehand, and as hot.
func (s Stay) lets(r Reading) bool {
	if r.Celsius < Scalding || (s.Limit >= Scalding && s.Typed != "") {
		return true
	}
	for _, a := range s.Others() {
		if r.Celsius <= a.Limit && !r.Time.Before(a.Time) {
			return true
		}
	}
	return false
}

// UnallowedError means that nobody else let a stay be as hot as it is meant to be.
type UnallowedError struct {
	Stay   string
	Limit  Celsius
	Opener string
	// Most is the warmest another person allowed; 0 for none.
	Most Celsius
	// Own reports that the opener allowed something, which is nobody else's word.
	Own bool
}

// Error says who must do what.
func (e *UnallowedError) Error() string {
	why := ""
	switch {
	case e.Most > 0:
		why = fmt.Sprintf("; so far at most %s °C are allowed", e.Most)
	case e.Own:
		why = fmt.Sprintf("; %s allowed it and cannot record its first readings too", e.Opener)
	}
	return fmt.Sprintf("stay %s is meant to be up to %s °C: from %s °C (145 °F) on, another person must allow it before its first readings, and say why%s",
		e.Stay, e.Limit, Scalding, why)
}

// Reason is the wire reason.
func (e *UnallowedError) Reason() string {
	if e.Own && e.Most == 0 {
		return "SAME_PERSON"
	}
	return "STATE_FORBIDS"
}

// Metadata names the stay, what is asked for and the most that another person allowed.
func (e *UnallowedError) Metadata() map[string]string {
	m := map[string]string{"resource": "heatStays/" + e.Stay, "state": "NOT_ALLOWED", "limit_celsius": e.Limit.String(), "from_celsius": Scalding.String()}
	if e.Most > 0 {
		m["allowed_celsius"] = e.Most.String()
	} else if e.Own {
		m["first"] = e.Opener
	}
	return m
}
