// Package app is what a dock and its office can do: one file for each command or group of questions. A command runs in the
// transaction it is given (load, decide, save) and returns what happened as facts; the ledger of requests, the commit and
// the feed are its caller's.
package app

import (
	"time"

	"google.golang.org/protobuf/proto"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/message"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/quantity"
)

// App carries what commands need beside the request.
type App struct {
	Store Store
	Clock clock.Clock
	// Site starts ticket numbers, e.g. "FC".
	Site string
	Unit quantity.Unit
	// Currency is the ISO 4217 code deposits are in.
	Currency string
	// Zone decides what "today" is.
	Zone *time.Location
	// Expect says what drums usually weigh.
	Expect domain.Expectations
	// ReweighDays is how long after closing a member may have a barrel weighed again.
	ReweighDays int
	// Indicated are the scales with an indicator, by id.
	Indicated map[string]bool
	// CaptureAge is how long a captured weight may be used.
	CaptureAge time.Duration
	// Retention is how long portions of samples are kept.
	Retention domain.Retention
	// Codes draws blind sample codes.
	Codes domain.CodeSource
}

// now is cut to what the database keeps, so that an answer and a later read agree.
func (a *App) now() time.Time { return a.Clock.Now().UTC().Truncate(time.Microsecond) }

// date is the cooperative's local date of an instant.
func (a *App) date(t time.Time) string { return t.In(a.Zone).Format(time.DateOnly) }

func (a *App) write() message.Writer { return message.Writer{Unit: a.Unit, Currency: a.Currency} }

func fact(aggregate string, at time.Time, payload proto.Message) []feed.Fact {
	return []feed.Fact{{Aggregate: aggregate, Payload: payload, OccurTime: at}}
}
