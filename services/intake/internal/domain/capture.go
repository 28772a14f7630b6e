package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// DefaultCaptureAge is how long a captured weight may be used; our own limit. A barrel takes a clerk about a minute.
const DefaultCaptureAge = 5 * time.Minute

// Capture is a weight taken from the indicator of a scale. It serves one weighing.
type Capture struct {
	ID     uuid.UUID
	Scale  string
	Weight quantity.Mass
	// Raw is the line of the indicator.
	Raw string
	// ReceiveTime is when that line arrived, StableSince when the weight began to stand still.
	ReceiveTime time.Time
	StableSince time.Time
	Capturer    string
	Time        time.Time
	// Barrel is what it was used for and DrumTag the drum of that; uuid.Nil while it is free.
	Barrel  uuid.UUID
	DrumTag string
}

// Name is the resource name.
func (c Capture) Name() string { return CaptureName(c.Scale, c.ID) }

// CaptureName is the resource name of a captured weight, or empty for none.
func CaptureName(scale string, id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return Scale{ID: scale}.Name() + "/indications/" + id.String()
}

// MayFollow refuses a weight that is still the one that was taken before: between two barrels a scale moves. moved is when it
// was last seen to move, zero if never; another weight shows that it did. A platform with nothing on it may be taken again.
// c.Time is now, and limit how long a weight may be used. The time of last is told as it is given, so it should be local.
//
// Errors: STATE_FORBIDS, state NOT_MOVED; UNAVAILABLE, state STUCK, where a barrel was weighed with the one before.
func (c Capture) MayFollow(last *Capture, moved time.Time, limit time.Duration, unit quantity.Unit) error {
	if last == nil || c.Weight == 0 || c.Weight != last.Weight || moved.After(last.Time) {
		return nil
	}
	label, at := Scale{ID: c.Scale}.label(), last.Time.Format(time.TimeOnly)
	if last.Barrel == uuid.Nil {
		do := "weigh with that, or put the next barrel on"
		if c.Time.Sub(last.Time) > limit {
			do = "that is too long ago to weigh with, so take the barrel off and put it on again"
		}
		r := stateForbids(last.Name(), "NOT_MOVED", "%s has not moved since %s was taken from it at %s: %s", label, last.Weight.Say(unit), at, do)
		r.metadata["indication"], r.metadata["weight"] = last.Name(), last.Weight.String()
		return r
	}
	return &Refusal{
		reason: "UNAVAILABLE", message: label + " " + last.Unmoved(unit),
		metadata: map[string]string{"resource": Scale{ID: c.Scale}.Name(), "scale": Scale{ID: c.Scale}.Name(), "state": "STUCK", "indication": c.Raw},
	}
}

// Unmoved says that a scale still shows the weight of a barrel that was weighed; it continues "scale 2 ".
func (c Capture) Unmoved(unit quantity.Unit) string {
	return fmt.Sprintf("has not moved off %s since drum %s was weighed at %s: take the load off and see that it returns to zero; if it does not, "+
		"it is stuck", c.Weight.Say(unit), c.DrumTag, c.Time.Format(time.TimeOnly))
}

// Weigh puts a captured weight in the place of what a clerk would have read. at is when the barrel was weighed.
//
// Errors: FIELD_INVALID for what contradicts it, OUT_OF_RANGE when it is older than limit, STATE_FORBIDS, state USED.
func (c Capture) Weigh(w Weighing, at time.Time, limit time.Duration, unit quantity.Unit) (Weighing, error) {
	switch age := at.Sub(c.Time); {
	case c.Barrel != uuid.Nil:
		return w, c.Used()
	case w.Manual || w.Paper != "":
		return w, invalid("indication", "a weight taken from the scale was not typed by hand: leave out manual and paper_number, or the indication")
	case w.Gross != 0 && w.Gross != c.Weight:
		return w, invalid("gross", "gross says %s, but %s was taken from the scale: leave gross out", w.Gross.Say(unit), c.Weight.Say(unit))
	case age > limit:
		r := outOfRange("indication", "", limit.String(), "this weight was taken %s before the barrel was weighed, and may be used for %s: put the "+
			"barrel on the scale and take it again", age.Round(time.Second), limit)
		r.metadata["capture_time"] = c.Time.Format(time.RFC3339)
		return w, r
	}
	w.Gross, w.RawIndication, w.Stable = c.Weight, c.Raw, true
	return w, nil
}

// Used refuses a weight that served a barrel.
func (c Capture) Used() error {
	r := stateForbids(c.Name(), "USED", "this weight was used for a barrel already: put the next barrel on the scale and take its own")
	if c.Barrel != uuid.Nil {
		r.message = fmt.Sprintf("this weight was used for drum %s already: put the next barrel on the scale and take its own", c.DrumTag)
		r.metadata["barrel"] = Barrel{ID: c.Barrel}.Name()
	}
	r.field = "indication"
	return r
}

// MayLackCapture refuses a weight that was neither taken from a scale that sends it nor said to be typed or from an offline
// dock. Who says so is counted for the auditor.
func (w Weighing) MayLackCapture(scale string, indicated, offline bool) error {
	if !indicated || w.Manual || offline {
		return nil
	}
	return invalid("indication", "%s sends its weight itself: take it from there, or say in manual that it was typed, with the reason",
		Scale{ID: scale}.label())
}
