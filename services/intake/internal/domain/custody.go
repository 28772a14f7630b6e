package domain

import (
	"cmp"
	"fmt"
	"time"
)

// CustodyKind is what happened to a portion of a sample.
type CustodyKind string

// What may happen to a portion.
const (
	Sealed    CustodyKind = "SEALED"
	Moved     CustodyKind = "MOVED"
	Received  CustodyKind = "RECEIVED"
	Opened    CustodyKind = "OPENED"
	Stored    CustodyKind = "STORED"
	Discarded CustodyKind = "DISCARDED"
)

// Our own limits.
const (
	longestJourney = 72 * time.Hour
	keepDays       = 365
)

// Retention is for how many days portions A, B and C are kept.
type Retention struct{ A, B, C int }

// Days are those of a portion; 365 where nothing is said.
func (r Retention) Days(letter string) int {
	return cmp.Or(map[string]int{"A": r.A, "B": r.B, "C": r.C}[letter], keepDays)
}

// PortionDue is a portion whose time is over and that nobody said to have discarded.
type PortionDue struct {
	Sample, Letter, Seal, Place, Expires string
	Last                                 CustodyKind
}

// SampleName is the resource name of the sample.
func (d PortionDue) SampleName() string { return Portion{Sample: d.Sample}.SampleName() }

// DueDate refuses what is no date.
func DueDate(date string) error {
	if isDate(date) {
		return nil
	}
	return invalid("due_date", "%q is not a date such as 2027-09-14", date)
}

// DueFilter selects a page of portions due on a date, by date, sample and letter after those of the page before.
type DueFilter struct {
	Date                      string
	AfterDate, Sample, Letter string
	Limit                     int
}

// CustodyEvent is one thing that happened to a portion.
type CustodyEvent struct {
	Ordinal int
	Kind    CustodyKind
	// Place is where; for a move, where to.
	Place string
	// Seal is the one put on, or as it read.
	Seal string
	// Expires is a local date, only of Sealed.
	Expires    string
	Note       string
	Actor      string
	Time       time.Time
	RecordTime time.Time
	// Gap says why the chain is broken here, or is empty.
	Gap string
}

// Seal is the one a portion got when the sample was drawn.
type Seal struct{ Letter, Number, Expires string }

// VetSeals refuses two seals for one portion.
func VetSeals(seals []Seal) error {
	seen := map[string]bool{}
	for i, s := range seals {
		if seen[s.Letter] {
			return invalid(fmt.Sprintf("seals[%d].portion", i), "portion %s is sealed twice: name each portion once", s.Letter)
		}
		seen[s.Letter] = true
	}
	return nil
}

// Portion is one of the jars of a sample, with what happened to it.
type Portion struct {
	Sample string
	// Letter is A, B or C.
	Letter string
	Events []CustodyEvent
}

// SampleName is the resource name of the sample.
func (p Portion) SampleName() string { return "samples/" + p.Sample }

func (p Portion) last() CustodyEvent {
	if len(p.Events) == 0 {
		return CustodyEvent{}
	}
	return p.Events[len(p.Events)-1]
}

// Last is what happened last.
func (p Portion) Last() CustodyKind { return p.last().Kind }

// Place is where the portion is, or on its way to.
func (p Portion) Place() string { return p.last().Place }

// InTransit is true from a move until the portion is received.
func (p Portion) InTransit() bool { return p.last().Kind == Moved }

// Seal is the seal on it; empty while it is open.
func (p Portion) Seal() string {
	for i := len(p.Events) - 1; i >= 0; i-- {
		switch e := p.Events[i]; e.Kind {
		case Sealed:
			return e.Seal
		case Opened, Discarded:
			return ""
		case Moved, Received, Stored: // says nothing of the seal
		}
	}
	return ""
}

// Expires is the date of the newest seal.
func (p Portion) Expires() string {
	expires := ""
	for _, e := range p.Events {
		if e.Kind == Sealed {
			expires = e.Expires
		}
	}
	return expires
}

// Broken is the first gap, or empty.
func (p Portion) Broken() string {
	for _, e := range p.Events {
		if e.Gap != "" {
			return e.Gap
		}
	}
	return ""
}

// Add judges what is said to have happened. What cannot be is refused; what should not have been is a gap, because hiding
// it would be worse. today is the local date of the event, keep says how long the house keeps portions.
func (p Portion) Add(e CustodyEvent, today string, keep Retention) (CustodyEvent, error) {
	if err := p.mayAdd(e); err != nil {
		return e, err
	}
	var err error
	if e.Expires, err = expiry(e, today, keep.Days(p.Letter)); err != nil {
		return e, err
	}
	e.Ordinal = len(p.Events) + 1
	if e.Ordinal > 1 {
		e.Gap = p.gap(e, today)
	}
	return e, nil
}

func (p Portion) mayAdd(e CustodyEvent) error {
	switch {
	case e.Kind == Sealed && e.Seal == "":
		return invalid("seal", "the seal number is missing: read it off the seal that was put on")
	case p.Last() == "" && e.Kind != Sealed:
		return stateForbids(p.SampleName(), "NOT_SEALED", "portion %s was never sealed: its custody begins with a seal", p.Letter)
	case p.Last() == Discarded:
		return stateForbids(p.SampleName(), string(Discarded), "portion %s was discarded: nothing can happen to it any more", p.Letter)
	case e.Time.Before(p.last().Time):
		return outOfRange("event_time", p.last().Time.Format(time.RFC3339), "", "portion %s was %s later, at %s: events come in their order",
			p.Letter, p.Last().words(), p.last().Time.Format(time.RFC3339))
	}
	return nil
}

func expiry(e CustodyEvent, today string, keep int) (string, error) {
	switch {
	case e.Kind != Sealed && e.Expires != "":
		return "", invalid("expire_date", "only a new seal sets the date: leave it out")
	case e.Kind != Sealed:
		return "", nil
	case e.Expires == "":
		return later(today, keep), nil
	case !isDate(e.Expires) || e.Expires < today:
		return "", invalid("expire_date", "%q is not a date from %s on", e.Expires, today)
	}
	return e.Expires, nil
}

// later is a date so many days after another.
func later(date string, days int) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return t.AddDate(0, 0, days).Format(time.DateOnly)
}

// Since is the last time the chain is known to have held before the event at place i.
func (p Portion) Since(e CustodyEvent) time.Time {
	if e.Ordinal < 2 || e.Ordinal-2 >= len(p.Events) {
		return e.Time
	}
	return p.Events[e.Ordinal-2].Time
}

// gap is why the chain does not hold at e, or empty.
func (p Portion) gap(e CustodyEvent, today string) string {
	seal := p.Seal()
	switch {
	case e.Kind == Received && !p.InTransit():
		return fmt.Sprintf("portion %s was received at %s, but nobody sent it there from %s", p.Letter, e.Place, p.Place())
	case e.Kind == Received && e.Place != p.Place():
		return fmt.Sprintf("portion %s was received at %s, but it was sent to %s", p.Letter, e.Place, p.Place())
	case e.Kind == Received && e.Time.Sub(p.last().Time) > longestJourney:
		return fmt.Sprintf("portion %s was on its way to %s for more than %d hours", p.Letter, e.Place, int(longestJourney.Hours()))
	case e.Kind != Received && p.InTransit():
		return fmt.Sprintf("portion %s was %s at %s, but it was sent to %s and never received there", p.Letter, e.Kind.words(), e.Place, p.Place())
	case e.Kind != Received && e.Kind != Moved && e.Place != p.Place():
		return fmt.Sprintf("portion %s was %s at %s, but it was at %s", p.Letter, e.Kind.words(), e.Place, p.Place())
	case e.Kind == Sealed && seal != "":
		return fmt.Sprintf("portion %s got seal %s, but nobody said that seal %s was opened", p.Letter, e.Seal, seal)
	case e.Kind != Sealed && e.Seal != "" && e.Seal != seal:
		return fmt.Sprintf("the seal of portion %s read %s, but it should be %s", p.Letter, e.Seal, orNone(seal))
	case e.Kind == Opened && today > p.Expires():
		return fmt.Sprintf("portion %s was opened on %s, after its date of %s", p.Letter, today, p.Expires())
	}
	return ""
}

func orNone(seal string) string {
	if seal == "" {
		return "none"
	}
	return seal
}

func (k CustodyKind) words() string {
	return map[CustodyKind]string{
		Sealed: "sealed", Moved: "sent away", Received: "received", Opened: "opened", Stored: "stored", Discarded: "discarded",
	}[k]
}
