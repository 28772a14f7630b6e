package indicator

import (
	"fmt"
	"time"

	"barrelhead.example/services/kit/quantity"
)

const (
	// agreeing lines in a row are needed before a weight counts: one line may be damaged into another number.
	agreeing = 2
	// agreeingUnmarked are needed where no mark says that the load stands still, over settle_for.
	agreeingUnmarked = 5
	// leastRun lines must be the same before anything is called stuck, however slowly they come.
	leastRun = 5
	// wake is how long lines after a silence are only listened to: they may have waited in a buffer on the way, and what
	// waited arrives at once.
	wake = 250 * time.Millisecond
)

// tracker says what the lines of late amount to. It knows the time only from its callers, and has no lock.
type tracker struct {
	settings Settings
	grammar  *grammar
	unit     quantity.Unit

	newest   reading
	newestAt time.Time
	// wokeAt is when lines came back after a silence or a new connection.
	wokeAt time.Time
	// run counts lines in a row with the same bytes, since runAt.
	run   int
	runAt time.Time
	// equal counts lines in a row that stand still at one weight, since equalAt.
	equal   int
	equalAt time.Time

	// rest is the weight it last stood still at, if it ever did.
	rest   quantity.Mass
	rested bool
	// off counts lines in a row that are not at rest; movedAt is when there were enough of them to believe.
	off     int
	movedAt time.Time
	// doubt says why nothing counts before it moves; see Reader.Doubt.
	doubt string
}

func newTracker(s Settings, unit quantity.Unit) (*tracker, error) {
	g, err := newGrammar(s, unit)
	if err != nil {
		return nil, fmt.Errorf("pattern %w", err)
	}
	return &tracker{settings: s, grammar: g, unit: unit}, nil
}

// line takes a whole line.
func (t *tracker) line(raw []byte, at time.Time) {
	// Most lines repeat the one before; reading them again would be most of the work at thousands a second.
	if t.run > 0 && string(raw) == t.newest.raw {
		t.take(t.newest, at)
		return
	}
	t.take(t.grammar.read(raw), at)
}

// tooLong takes bytes that held no end of a line.
func (t *tracker) tooLong(raw []byte, at time.Time) {
	t.take(reading{raw: show(raw), state: Unreadable, why: fmt.Sprintf("%d bytes without the end of a line; check the terminator, baud "+
		"rate and parity", len(raw))}, at)
}

// broken forgets what led up to now: the next connection may be to another state of the scale.
func (t *tracker) broken() {
	t.newestAt, t.run, t.equal, t.off = time.Time{}, 0, 0, 0
}

func (t *tracker) take(r reading, at time.Time) {
	if t.newestAt.IsZero() || at.Sub(t.newestAt) >= t.silence() {
		t.wokeAt, t.run, t.equal = at, 0, 0
	}
	if t.run++; t.run == 1 || r.raw != t.newest.raw {
		t.run, t.runAt = 1, at
	}
	switch {
	case r.state != Stable || at.Sub(t.wokeAt) < wake:
		t.equal = 0
	case t.equal > 0 && t.newest.state == Stable && t.newest.weight == r.weight:
		t.equal++
	default:
		t.equal, t.equalAt = 1, at
	}
	t.newest, t.newestAt = r, at
	t.follow(r, at)
}

// follow notes whether the scale moves. A line that cannot be read, or is not of the load, says nothing about it.
func (t *tracker) follow(r reading, at time.Time) {
	atRest := r.state == Stable && (!t.rested || r.weight == t.rest)
	switch {
	case at.Sub(t.wokeAt) < wake:
	case atRest:
		t.off = 0
	case r.state == Stable, r.state == Moving, r.state == OverRange, r.state == UnderLoad:
		if t.off++; t.off >= agreeing {
			t.movedAt, t.doubt = at, ""
		}
	}
	if r.state == Stable && t.settled() {
		t.rest, t.rested, t.off = r.weight, true, 0
	}
}

func (t *tracker) silence() time.Duration { return time.Duration(t.settings.SilentAfter) }

// at is what is known at an instant not before the newest line.
func (t *tracker) at(now time.Time) Indication {
	r := t.newest
	i := Indication{State: r.state, Message: describe(r, t.unit), Weighed: r.weighed, Weight: r.weight, Raw: r.raw, ReceiveTime: t.newestAt, MovedTime: t.movedAt}
	switch {
	case t.newestAt.IsZero():
		return Indication{State: Silent, Message: "is connected, but its indicator has sent nothing yet: check that continuous output is on"}
	case now.Sub(t.newestAt) >= t.silence():
		i.State = Silent
		i.Message = fmt.Sprintf("has sent nothing for %d s: check the indicator, its cable and that continuous output is on",
			int(now.Sub(t.newestAt)/time.Second))
	case t.stuckMoving():
		i.State = Stuck
		i.Message = fmt.Sprintf("has sent the same moving weight for %d s, which no load does: switch the indicator off and on", t.ranFor())
	case r.state != Stable:
	case !t.settled():
		i.State, i.Message = Moving, "is about to stand still: wait a moment"
	case t.stuckStill():
		i.State = Stuck
		i.Message = fmt.Sprintf("has not moved off %s for %d min: take the load off and see that it returns to zero",
			r.weight.Say(t.unit), t.ranFor()/60)
	case t.doubt != "":
		i.State, i.Message = Stuck, t.doubt
	default:
		i.StableSince = t.equalAt
	}
	return i
}

func (t *tracker) settled() bool {
	if t.newest.marked {
		return t.equal >= agreeing
	}
	return t.equal >= agreeingUnmarked && t.newestAt.Sub(t.equalAt) >= time.Duration(t.settings.SettleFor)
}

// stuckMoving is told by the bytes: a load that moves changes some. An empty platform in the wind may not.
func (t *tracker) stuckMoving() bool {
	return t.newest.state == Moving && t.newest.weight != 0 && t.repeatedFor(time.Duration(t.settings.StuckAfter))
}

// stuckStill cannot be told from a barrel somebody left standing, so it is only said after a long time.
func (t *tracker) stuckStill() bool {
	return t.newest.weight != 0 && t.repeatedFor(time.Duration(t.settings.StillAfter))
}

func (t *tracker) repeatedFor(d time.Duration) bool {
	return t.run >= leastRun && t.newestAt.Sub(t.runAt) >= d
}

func (t *tracker) ranFor() int { return int(t.newestAt.Sub(t.runAt) / time.Second) }
