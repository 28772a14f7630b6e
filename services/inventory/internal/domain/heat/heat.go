// Package heat reckons what warming costs honey. Honey that is warmed forms hydroxymethylfurfural; the budget of a fill is
// the time in which it gains 30 mg/kg at the temperature it has.
package heat

import (
	"fmt"
	"math"
	"slices"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// Celsius is tenths of a degree.
type Celsius int64

func (c Celsius) String() string { return quantity.FormatFixed(int64(c), 1, 1) }

// The line ln(days) = A + B/T through the geometric means of the table of White, Kushnir and Subers (1964), "Table 3" in A
// Practical Manual of Beekeeping, from 30 to 70 °C. It meets the table's ranges within a factor of 1.46.
const (
	lineA = -52.7282
	lineB = 17592.6

	coolest Celsius = 30_0
	hottest Celsius = 70_0
)

// DaysToLimit is how long honey takes to gain 30 mg/kg; false above 70 °C, where the table ends. Below 30 °C it answers for
// 30 °C, which can only count too much.
func DaysToLimit(c Celsius) (float64, bool) {
	kelvin := float64(max(c, coolest))/10 + 273.15
	return math.Exp(lineA + lineB/kelvin), c <= hottest
}

// Rules of the log; common practice, no source. A working probe that reads tenths does not stand still for three hours, and
// the log of a hot room is kept every quarter of an hour.
const (
	FlatLine = 3 * time.Hour
	MostGap  = 30 * time.Minute
	// Warning is the part of the budget at which somebody should look.
	Warning quantity.Percent = 80_00
)

// Reading is what a probe showed.
type Reading struct {
	Time    time.Time
	Celsius Celsius
}

// Kind of an alarm.
type Kind string

// Kinds.
const (
	Flat   Kind = "FLAT_LINE"
	Gap    Kind = "GAP"
	TooHot Kind = "TOO_HOT"
	Budget Kind = "BUDGET"
	Over   Kind = "OVER_LIMIT"
	Scald  Kind = "SCALDING"
)

// Alarm is what is wrong with a log.
type Alarm struct {
	Kind        Kind
	Stay, Probe string
	From, To    time.Time
	Sentence    string
}

// Holds tells whether what was warmed is held for it until another person says why it may be used.
func (a Alarm) Holds() bool { return a.Kind != Budget && a.Kind != Over }

// Log is the readings of one probe during one stay, in the order of time.
type Log struct {
	Stay
	Probe    string
	Readings []Reading
}

// Account is what was used of the budget. It is the least it can be while Unknown.
type Account struct {
	Used    quantity.Percent
	Unknown bool
	Alarms  []Alarm
	// Carried is the part of Used that came with what was poured in.
	Carried quantity.Percent
	// Warmest is the highest reading, nil without one.
	Warmest *Celsius
	// UnknownSources are what went in with a hole in its own log.
	UnknownSources []string
}

// Total reckons all logs of one fill: probes of one stay watch the same room, so the one that cost most counts; stays add up.
func Total(logs []Log) Account {
	var out Account
	stays := map[string]quantity.Percent{}
	for _, l := range logs {
		stays[l.ID] = max(stays[l.ID], l.used())
		out.Alarms = append(out.Alarms, l.holes()...)
		for _, r := range l.Readings {
			out.Warmest = warmer(out.Warmest, &r.Celsius)
		}
	}
	out.Unknown = len(out.Alarms) > 0
	for _, l := range logs {
		out.Alarms = append(append(out.Alarms, l.scalding()...), l.over()...)
	}
	for _, used := range stays {
		out.Used += used
	}
	return out.warned()
}

// warned adds the alarm of a budget that is nearly used, once.
func (a Account) warned() Account {
	a.Alarms = slices.DeleteFunc(a.Alarms, func(al Alarm) bool { return al.Kind == Budget })
	if a.Used >= Warning {
		a.Alarms = append(a.Alarms, Alarm{Kind: Budget, Sentence: fmt.Sprintf(
			"%s percent of the heat budget is used, %s is the mark: cool it, and measure its HMF before it is warmed again", a.Used, Warning)})
	}
	return a
}

func warmer(a, b *Celsius) *Celsius {
	if a == nil || b != nil && *b > *a {
		return b
	}
	return a
}

// used is rounded once, half up, where it enters the record. An interval counts at the warmer of its ends.
func (l Log) used() quantity.Percent {
	var part float64
	for i := range l.pairs() {
		a, b := l.Readings[i], l.Readings[i+1]
		days, _ := DaysToLimit(min(max(a.Celsius, b.Celsius), hottest))
		part += b.Time.Sub(a.Time).Hours() / 24 / days
	}
	return quantity.Percent(math.Floor(part*100_00 + 0.5))
}

func (l Log) pairs() []Reading { return l.Readings[:max(len(l.Readings)-1, 0)] }

// holes are the times of which the log does not tell how warm it was.
func (l Log) holes() []Alarm {
	var out []Alarm
	note := func(k Kind, from, to time.Time, format string, args ...any) {
		out = append(out, Alarm{Kind: k, Stay: l.ID, Probe: l.Probe, From: from, To: to, Sentence: fmt.Sprintf(format, args...)})
	}
	for i := range l.pairs() {
		a, b := l.Readings[i], l.Readings[i+1]
		if gap := b.Time.Sub(a.Time); gap > MostGap {
			note(Gap, a.Time, b.Time, "probe %s was not read for %s; at most %s are allowed", l.Probe, inHours(gap), inHours(MostGap))
		}
	}
	for _, run := range l.runs(func(a, b Reading) bool { return a.Celsius == b.Celsius }) {
		if first, last := run[0], run[len(run)-1]; last.Time.Sub(first.Time) >= FlatLine {
			note(Flat, first.Time, last.Time, "probe %s showed %s °C without a change for %s: it is stuck; how warm it was is unknown, measure HMF",
				l.Probe, first.Celsius, inHours(last.Time.Sub(first.Time)))
		}
	}
	for _, run := range l.above(hottest) {
		note(TooHot, run[0].Time, run[len(run)-1].Time, "probe %s showed %s °C; above %s °C no published kinetics are used: measure HMF", l.Probe, most(run), hottest)
	}
	return out
}

// inHours writes a time in hours and minutes.
func inHours(d time.Duration) string {
	hours, minutes := int(d.Hours()), int(d.Minutes())%60
	switch {
	case hours == 0:
		return fmt.Sprintf("%d min", minutes)
	case minutes == 0:
		return fmt.Sprintf("%d h", hours)
	default:
		return fmt.Sprintf("%d h %d min", hours, minutes)
	}
}

// over are the times it was warmer than it was meant to be. How warm is known, so nothing is held for it.
func (l Log) over() (out []Alarm) {
	if l.Limit == 0 {
		return nil
	}
	for _, run := range l.above(l.Limit) {
		out = append(out, Alarm{
			Kind: Over, Stay: l.ID, Probe: l.Probe, From: run[0].Time, To: run[len(run)-1].Time,
			Sentence: fmt.Sprintf("probe %s showed up to %s °C; the stay is meant to be at most %s °C: turn it down", l.Probe, most(run), l.Limit),
		})
	}
	return out
}

// scalding are the times honey was as hot as nobody else had allowed: at all, as hot, or yet.
func (l Log) scalding() (out []Alarm) {
	but := ""
	if others := l.Others(); len(others) > 0 {
		a := slices.MaxFunc(others, func(a, b Allowance) int { return int(a.Limit - b.Limit) })
		but = fmt.Sprintf("; %s allowed at most %s °C, from %s on", a.Allower, a.Limit, a.Time.UTC().Format("2006-01-02 15:04 UTC"))
	}
	for _, run := range l.stretches(func(r Reading) bool { return !l.lets(r) }) {
		out = append(out, Alarm{
			Kind: Scald, Stay: l.ID, Probe: l.Probe, From: run[0].Time, To: run[len(run)-1].Time,
			Sentence: fmt.Sprintf("probe %s showed up to %s °C; from %s °C (145 °F) another person must have said why beforehand%s", l.Probe, most(run), Scalding, but),
		})
	}
	return out
}

// above are the stretches of readings above a temperature.
func (l Log) above(limit Celsius) [][]Reading {
	return l.stretches(func(r Reading) bool { return r.Celsius > limit })
}

// stretches are the readings that are so, neighbours together.
func (l Log) stretches(so func(Reading) bool) (out [][]Reading) {
	for _, run := range l.runs(func(a, b Reading) bool { return so(a) == so(b) }) {
		if so(run[0]) {
			out = append(out, run)
		}
	}
	return out
}

func most(run []Reading) Celsius {
	return slices.MaxFunc(run, func(a, b Reading) int { return int(a.Celsius - b.Celsius) }).Celsius
}

// runs cuts the readings where neighbours are not alike.
func (l Log) runs(alike func(a, b Reading) bool) (out [][]Reading) {
	start := 0
	for i := 1; i <= len(l.Readings); i++ {
		if i == len(l.Readings) || !alike(l.Readings[i-1], l.Readings[i]) {
			out = append(out, l.Readings[start:i])
			start = i
		}
	}
	return out
}
