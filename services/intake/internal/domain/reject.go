package domain

import (
	"time"

	"github.com/google/uuid"
)

// RejectReason is why a barrel was not taken in, e.g. "FERMENTING".
type RejectReason string

// Fate is how a rejected barrel left: "COLLECTED", "DISPOSED", or empty while it stands here.
type Fate string

// Reject is a barrel that was brought but not taken in.
type Reject struct {
	ID       uuid.UUID
	Ticket   uuid.UUID
	DrumTag  string
	Reason   RejectReason
	Note     string
	Photo    string
	Rejecter string
	Time     time.Time
	Fate     Fate
	ExitNote string
	Recorder string
	ExitTime time.Time
}

// Name is the resource name.
func (r Reject) Name() string { return "rejectedBarrels/" + r.ID.String() }

// MayLeave refuses a barrel that left.
func (r Reject) MayLeave() error {
	if r.Fate == "" {
		return nil
	}
	return stateForbids(r.Name(), "LEFT", "this barrel left on %s already (%s)", r.ExitTime.Format(time.DateOnly), r.ExitNote)
}
