// Package clock is the only source of the present time, so that tests decide what time it is.
package clock

import (
	"sync"
	"time"
)

// Clock tells the time.
type Clock interface {
	Now() time.Time
}

// System is the machine's clock.
var System Clock = system{}

type system struct{}

func (system) Now() time.Time { return time.Now() }

// Fake stands still until it is moved. It may be used from several goroutines.
type Fake struct {
	mu  sync.Mutex
	now time.Time
}

// NewFake is a clock that stands at t.
func NewFake(t time.Time) *Fake { return &Fake{now: t} }

// Now is where the clock stands.
func (f *Fake) Now() time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.now
}

// Set moves the clock to t, which may lie in the past.
func (f *Fake) Set(t time.Time) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.now = t
}

// Advance moves the clock by d and returns the new time.
func (f *Fake) Advance(d time.Duration) time.Time {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.now = f.now.Add(d)
	return f.now
}

// Today is the date at the cooperative, as it travels on the wire, e.g. "2026-09-14". The zone decides it: a barrel
// weighed at nine in the evening belongs to that day whatever the date in Greenwich.
func Today(c Clock, zone *time.Location) string {
	return c.Now().In(zone).Format(time.DateOnly)
}
