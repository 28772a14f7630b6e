// Package scalesim stands in for a floor scale with an indicator in continuous output, for tests and for trying the dock
// without a scale. It sends the bytes an indicator would, over a real TCP socket or a real pseudo-terminal.
package scalesim

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"

	"barrelhead.example/services/kit/quantity"
)

// Pattern reads the lines of a Scale: the mark of motion or range, the mark of gross or net, the weight, the unit. The
// marks are S still, M moving, O over and U under range; G gross, N net. The form is our own.
const Pattern = `(?P<stable>[SMOU]) (?P<gross>[GN]) (?P<weight>[-+_ 0-9.]{10}) (?P<unit>[a-z]{2})`

// Fault is something wrong with a scale.
type Fault string

// Faults. Frozen repeats the last line, Jammed the first that moves from then on, Over and Under are loads it cannot show, Garbage is noise on the line, Endless is
// text without the end of a line, Half leaves out the first half of each line, Silence is nothing at all.
const (
	Healthy Fault = "healthy"
	Frozen  Fault = "frozen"
	Jammed  Fault = "jammed"
	Over    Fault = "over"
	Under   Fault = "under"
	Garbage Fault = "garbage"
	Endless Fault = "endless"
	Half    Fault = "half"
	Silence Fault = "silence"
)

// quietSteps without a change of half a division end the motion.
const quietSteps = 5

// Scale is a platform, a load cell and an indicator. It moves by one step for each line.
type Scale struct {
	division quantity.Mass

	mu    sync.Mutex
	unit  string
	net   bool
	fault Fault
	// load is what lies on the platform, at what the load cell feels, pull how fast that changes by the step.
	load, at, pull quantity.Mass
	quiet          int
	last           []byte
	// jam is the line a jammed indicator repeats, once there is one.
	jam   []byte
	noise *rand.Rand
}

// NewScale is an empty scale that stands still.
func NewScale(division quantity.Mass, unit string) *Scale {
	return &Scale{division: division, unit: unit, fault: Healthy, quiet: quietSteps, noise: rand.New(rand.NewPCG(1, 2))} //nolint:gosec // nothing to be guessed
}

// Put makes m the load on the platform; the indication swings towards it.
func (s *Scale) Put(m quantity.Mass) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.load, s.quiet = m, 0
}

// Set begins a fault; Healthy ends it.
func (s *Scale) Set(f Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fault, s.jam = f, nil
}

// Show switches the indicator to another unit, without converting, and between gross and net.
func (s *Scale) Show(unit string, net bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.unit, s.net = unit, net
}

// Still reports whether the indication stands still at the load.
func (s *Scale) Still() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.quiet >= quietSteps
}

// Next is what the indicator sends next, with its terminator; nothing in silence.
func (s *Scale) Next() []byte {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.step()
	switch s.fault {
	case Frozen:
		if s.last != nil {
			return s.last
		}
	case Jammed:
		if s.jam == nil && s.mark() == 'M' {
			s.jam = s.line('M', s.shown())
		}
		if s.jam != nil {
			return s.jam
		}
	case Over:
		return s.line('O', "----------")
	case Under:
		return s.line('U', "__________")
	case Garbage:
		return s.garbage()
	case Endless:
		return []byte(strings.Repeat("~", 64))
	case Silence:
		return nil
	case Half:
		whole := s.line(s.mark(), s.shown())
		return whole[len(whole)/2:]
	case Healthy:
	}
	s.last = s.line(s.mark(), s.shown())
	return s.last
}

func (s *Scale) line(mark byte, weight string) []byte {
	mode := 'G'
	if s.net {
		mode = 'N'
	}
	return fmt.Appendf(nil, "%c %c %10s %s\r\n", mark, mode, weight, s.unit)
}

func (s *Scale) mark() byte {
	if s.quiet >= quietSteps {
		return 'S'
	}
	return 'M'
}

// shown is rounded to the division, half up.
func (s *Scale) shown() string {
	half := s.division / 2
	if s.at < 0 {
		half = -half
	}
	m := s.at + half
	return (m - m%s.division).String()
}

// step is a damped spring in whole numbers: it overshoots and comes to rest, as a platform does.
func (s *Scale) step() {
	before := s.at
	s.pull += (s.load-s.at)*3/16 - s.pull/3
	s.at += s.pull
	near := func(m quantity.Mass) bool { return m < s.division/2 && m > -s.division/2 }
	if near(s.load-s.at) && near(s.pull) {
		s.at, s.pull = s.load, 0
	}
	if !near(s.at-before) || s.at != s.load {
		s.quiet = 0
		return
	}
	s.quiet++
}

// garbage is noise, the same in every run: a test that fails can be run again.
func (s *Scale) garbage() []byte {
	out := make([]byte, 24)
	for i := range out {
		out[i] = byte(s.noise.Uint64() >> 56)
	}
	return append(out, '\r', '\n')
}
