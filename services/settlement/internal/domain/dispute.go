package domain

import (
	"time"

	"github.com/google/uuid"
)

// DisputeDays is how many days the office has to answer a question (a promise of the house, no source).
const DisputeDays = 14

// Dispute is a member's question about a payout, or a line of it.
type Dispute struct {
	ID       uuid.UUID
	Place    int64
	Number   string
	Member   string
	Payout   uuid.UUID
	Line     int
	Question string
	Asker    string
	AskTime  time.Time
	Due      Date
	// Answerer is empty while it is open.
	Answer     string
	Outcome    int
	Answerer   string
	AnswerTime *time.Time
}

// Name is "disputes/{uuid}".
func (d *Dispute) Name() string { return "disputes/" + d.ID.String() }

// Open reports whether it waits for an answer.
func (d *Dispute) Open() bool { return d.Answerer == "" }

// MayAnswer wants another person than the one who asked, and nobody whose money it is.
func (d *Dispute) MayAnswer(login, member string) error {
	switch {
	case !d.Open():
		return &StateError{Resource: d.Name(), State: "ANSWERED", Message: "question " + d.Number + " is answered already; a new question is asked anew"}
	case login == d.Asker:
		return &SamePersonError{First: d.Asker, Message: "the person who asked cannot answer"}
	case member == d.Member:
		return &StateError{Resource: d.Name(), State: "INTERESTED", Message: "this is about your own money; another person must answer"}
	}
	return nil
}

// Headline says where it stands on a day.
func (d *Dispute) Headline(today Date) string {
	switch {
	case !d.Open():
		return "Answered."
	case today > d.Due:
		return "We owe you an answer since " + string(d.Due) + "."
	}
	return "We have your question and answer it by " + string(d.Due) + "."
}
