package stock

import (
	"slices"
	"time"

	"github.com/google/uuid"
)

// Count is a location compared with the books, by tags.
type Count struct {
	ID                        uuid.UUID
	Number                    int64
	Location                  string
	Matched, Missing, Unknown []string
	Misplaced                 []Misplaced
	Counter                   string
	Time                      time.Time
}

// Misplaced stands somewhere else than the books say.
type Misplaced struct {
	DrumTag string
	Barrel  uuid.UUID
	Booked  string
}

// Name is the resource name, "cycleCounts/{uuid}".
func (c Count) Name() string { return "cycleCounts/" + c.ID.String() }

// Compare tells what was scanned at a location from what is booked there. Items are those on hand under the tags or at the
// location.
func Compare(location string, scanned []string, items []Item) Count {
	c := Count{Location: location}
	tags := slices.Compact(slices.Sorted(slices.Values(scanned)))
	known := map[string]bool{}
	for _, i := range items {
		known[i.DrumTag] = true
		_, seen := slices.BinarySearch(tags, i.DrumTag)
		switch {
		case seen && i.Location == location:
			c.Matched = append(c.Matched, i.DrumTag)
		case seen:
			c.Misplaced = append(c.Misplaced, Misplaced{i.DrumTag, i.Barrel, i.Location})
		case i.Location == location:
			c.Missing = append(c.Missing, i.DrumTag)
		}
	}
	for _, t := range tags {
		if !known[t] {
			c.Unknown = append(c.Unknown, t)
		}
	}
	slices.Sort(c.Matched)
	slices.Sort(c.Missing)
	return c
}
