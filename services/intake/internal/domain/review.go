package domain

import (
	"time"

	"github.com/google/uuid"
)

// ScaleReview is what a failed check put in doubt.
type ScaleReview struct {
	ID     uuid.UUID
	Failed Check
	// SinceTime is when the check before it passed, zero if there was none.
	SinceTime time.Time
	OpenTime  time.Time
	// Doubts are in the order of weighing.
	Doubts []Doubt
	// Resolver is empty while nobody decided; then there is a finding for each doubt, in their order.
	Resolver    string
	ResolveTime time.Time
	Findings    []Finding
}

// Doubt is one barrel whose weight may be wrong.
type Doubt struct {
	Barrel uuid.UUID
	Ticket uuid.UUID
	Number Number
	// InDrum is true while the barrel was still in its drum when the check failed, so it can be weighed again.
	InDrum bool
}

// Name is the resource name.
func (r ScaleReview) Name() string { return "scaleReviews/" + r.ID.String() }

// Tickets lists each ticket once, by number.
func (r ScaleReview) Tickets() []uuid.UUID {
	byNumber := map[Number]uuid.UUID{}
	for _, d := range r.Doubts {
		byNumber[d.Number] = d.Ticket
	}
	tickets := make([]uuid.UUID, 0, len(byNumber))
	for _, number := range sortedNumbers(byNumber) {
		tickets = append(tickets, byNumber[number])
	}
	return tickets
}

// InDoubtUnder is the check ordinal of the barrels a failed check puts in doubt: those weighed after the check before it.
// They need no comparing of clocks, because a barrel keeps the number of the newest check it was weighed under.
func (c Check) InDoubtUnder() int64 { return c.Ordinal - 1 }

// PageKey is where a page of a list by time begins.
type PageKey struct {
	Time time.Time `json:"t"`
	ID   uuid.UUID `json:"i"`
}

// ReviewFilter selects a page of reviews, newest first.
type ReviewFilter struct {
	Before   PageKey
	OpenOnly bool
	Limit    int
}
