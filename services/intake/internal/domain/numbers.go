package domain

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"
)

// NumberReport accounts for the ticket numbers of one site and year.
type NumberReport struct {
	Site string
	Year int
	Last int64
	// Counts has every state that occurs.
	Counts map[State]int64
	// Missing are numbers below Last without a ticket.
	Missing []Number
	// Exceptions is everything that is not simply closed.
	Exceptions []NumberEntry
}

// NumberEntry is one ticket in a report.
type NumberEntry struct {
	Ticket uuid.UUID
	Number Number
	State  State
	// Actor, Reason and Time are of the last transition; of the opening when there was none.
	Actor  string
	Reason string
	Time   time.Time
}

// Account compares the counter with the tickets there are, which must come by number.
func Account(site string, year int, last int64, entries []NumberEntry) NumberReport {
	r := NumberReport{Site: site, Year: year, Last: last, Counts: map[State]int64{}}
	expected := int64(1)
	for _, e := range entries {
		for ; expected < e.Number.Ordinal; expected++ {
			r.Missing = append(r.Missing, Number{site, year, expected})
		}
		expected = e.Number.Ordinal + 1
		r.Counts[e.State]++
		if e.State != Closed {
			r.Exceptions = append(r.Exceptions, e)
		}
	}
	for ; expected <= last; expected++ {
		r.Missing = append(r.Missing, Number{site, year, expected})
	}
	return r
}

func sortedNumbers[V any](byNumber map[Number]V) []Number {
	return slices.SortedFunc(maps.Keys(byNumber), func(a, b Number) int {
		return cmp.Or(cmp.Compare(a.Year, b.Year), cmp.Compare(a.Ordinal, b.Ordinal), cmp.Compare(a.Site, b.Site))
	})
}
