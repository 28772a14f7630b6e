package domain

import (
	"strconv"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// DefaultReweighDays is how long after closing a member may have a barrel weighed again (our own limit).
const DefaultReweighDays = 14

// Reweigh is one barrel weighed again.
type Reweigh struct {
	Barrel  uuid.UUID
	Ordinal int
	Gross   quantity.Mass
	// Previous is the gross weight that counted before, Tolerance the difference that keeps it.
	Previous      quantity.Mass
	Tolerance     quantity.Mass
	Tare          quantity.Mass
	TicketGross   quantity.Mass
	Scale         string
	CheckOrdinal  int64
	RawIndication string
	// Capture is the weight taken from the scale it rests on; uuid.Nil without one.
	Capture    uuid.UUID
	Stable     bool
	SealIntact bool
	Manual     bool
	Reason     string
	Weigher    string
	Time       time.Time
	// Doubted is true when the next check of its scale failed.
	Doubted bool
}

// Name is the resource name.
func (r Reweigh) Name() string {
	return Barrel{ID: r.Barrel}.Name() + "/reweighs/" + strconv.Itoa(r.Ordinal)
}

// Difference is what it shows more than counted before.
func (r Reweigh) Difference() quantity.Mass { return r.Gross - r.Previous }

// Counts is the written rule: up to the tolerance the previous weight stays, beyond it the re-weigh counts, whoever gains.
func (r Reweigh) Counts() bool { return abs(r.Difference()) > r.Tolerance }

// Standing is the gross weight that counts after it.
func (r Reweigh) Standing() quantity.Mass {
	if r.Counts() {
		return r.Gross
	}
	return r.Previous
}

// Net is the net weight that counts after it.
func (r Reweigh) Net() quantity.Mass { return r.Standing() - r.Tare }

// NetCorrection is what that changes about the ticket.
func (r Reweigh) NetCorrection() quantity.Mass { return r.Standing() - r.TicketGross }

// Reweighs are those of one barrel, oldest first.
type Reweighs []Reweigh

// Valid is the newest that nobody doubts.
func (all Reweighs) Valid() (Reweigh, bool) {
	for i := len(all) - 1; i >= 0; i-- {
		if !all[i].Doubted {
			return all[i], true
		}
	}
	return Reweigh{}, false
}

// Rematch is what a re-weigh meets.
type Rematch struct {
	Barrel   Barrel
	Ticket   Ticket
	Scale    Scale
	Earlier  Reweighs
	InReview bool
	// Days is how many days after closing the member may ask.
	Days int
}

// Judge applies every rule to a re-weigh of today and says what counts. zone decides about days.
func (m Rematch) Judge(r Reweigh, unit quantity.Unit, zone *time.Location) (Reweigh, error) {
	today := r.Time.In(zone).Format(time.DateOnly)
	if err := m.mayReweigh(r, today, zone); err != nil {
		return r, err
	}
	if err := m.Scale.mayReweigh(today); err != nil {
		return r, err
	}
	if err := m.vetReading(r, unit); err != nil {
		return r, err
	}
	r.Barrel, r.Ordinal, r.CheckOrdinal = m.Barrel.ID, len(m.Earlier)+1, m.Scale.LastCheck.Ordinal
	r.Tare, r.TicketGross, r.Previous = m.Barrel.Tare, m.Barrel.Gross, m.Barrel.Gross
	r.Tolerance = Tolerance(m.Scale.Class, Maintenance, r.Previous, m.Scale.Division)
	return r, nil
}

func (m Rematch) vetReading(r Reweigh, unit quantity.Unit) error {
	if !r.Stable && !r.Manual {
		return unstable(r.RawIndication)
	}
	if refused := m.Scale.indication("gross", r.Gross, unit); refused != nil {
		return refused
	}
	if w := (Weighing{Gross: r.Gross, Tare: m.Barrel.Tare}); w.Net() <= 0 {
		return w.noNet(unit)
	}
	if r.Manual && r.Reason == "" {
		return reasonRequired(warning{"reason", "the weight was typed by hand instead of taken from the scale", nil})
	}
	return nil
}

func (m Rematch) mayReweigh(r Reweigh, today string, zone *time.Location) error {
	refuse := func(state, format string, args ...any) *Refusal {
		return stateForbids(m.Barrel.Name(), state, format, args...)
	}
	switch {
	case m.Ticket.State != Open && m.Ticket.State != Closed:
		return refuse(string(m.Ticket.State), "ticket %s is %s: its barrels count no more", m.Ticket.Number, m.Ticket.State.words())
	case !m.Barrel.Open:
		return refuse("EMPTIED", "drum %s was emptied: what was in it cannot be weighed again", m.Barrel.DrumTag)
	case !r.SealIntact:
		return refuse("SEAL_BROKEN", "the seal of drum %s is broken: nobody can say what is missing or was added, so it cannot be "+
			"weighed again for pay", m.Barrel.DrumTag)
	}
	if earlier, ok := m.Earlier.Valid(); ok {
		return refuse("REWEIGHED", "drum %s was weighed again by %s already: that decided, whichever weight it was", m.Barrel.DrumTag,
			earlier.Weigher)
	}
	return m.inTime(today, zone)
}

func (m Rematch) inTime(today string, zone *time.Location) error {
	if m.InReview || m.Ticket.State == Open {
		return nil
	}
	ends := m.Ticket.CloseTime.In(zone).AddDate(0, 0, m.Days).Format(time.DateOnly)
	if today <= ends {
		return nil
	}
	return &Refusal{
		reason: "DEADLINE_PASSED", message: "drum " + m.Barrel.DrumTag + " could be weighed again until " + ends + ": ask the office or the board",
		metadata: map[string]string{"ended": ends, "resource": m.Barrel.Name()},
	}
}

// mayReweigh wants a scale that is known to be right today.
func (s Scale) mayReweigh(today string) error {
	if err := s.MayWeigh(); err != nil {
		return err
	}
	if s.LastCheck == nil || s.LastCheck.Date != today {
		return s.checkMissing("%s has no passing check today: check it with the test weights, then weigh the barrel again", s.label())
	}
	return nil
}
