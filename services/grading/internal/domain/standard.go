package domain

import (
	"strings"
)

// Standard is a published scheme as data: grades from best to worst, and for each factor what every grade asks. One
// engine judges by all of them.
type Standard struct {
	ID            string
	Title         string
	Version       string
	EffectiveDate string
	Source        string
	// Grades from best to worst; the last is what falls through.
	Grades   []Grade
	Switches []Switch
	rules    []rule
	colors   []ColorClass
	label    *labelRule
	// ranges are the words of every range a value can fall in, by the limit it missed and the one it kept.
	ranges map[between]string
}

// between is a limit a value missed, nil for none, and the next one it kept, nil where that grade asks nothing.
type between struct{ missed, kept *Limit }

// Name is the resource name.
func (s *Standard) Name() string { return "standards/" + s.ID }

// Grade is one outcome of a standard.
type Grade struct {
	// ID on the wire, e.g. "SUBSTANDARD".
	ID string
	// Words in a sentence, e.g. "grade A".
	Words string
	// Short says the outcome among those of other standards, e.g. "US grade A".
	Short string
}

// Switch is a rule of a standard that could not be checked in print and can be turned off in the data.
type Switch struct {
	ID, Meaning, Source, Provenance string
	On                              bool
}

// Provisional reports whether the rule is only remembered.
func (s Switch) Provisional() bool { return provisional(s.Provenance) }

// ColorClass is a step of a colour scale.
type ColorClass struct {
	ID, Words, Source, Provenance string
	// over and upTo bound it; the last has no upper bound.
	over, upTo Value
	// open says that upTo belongs to the next class, from that over belongs to this one.
	open, from bool
	last       bool
}

// Limit is one figure of a standard.
type Limit struct {
	Grade              int
	Factor             Factor
	Bound              Value
	Least              bool
	None               bool
	Words              string
	When               *Condition
	Source, Provenance string
}

// Provisional reports whether the figure is only remembered, not read in print.
func (l *Limit) Provisional() bool { return provisional(l.Provenance) }

func provisional(provenance string) bool {
	return !strings.HasPrefix(provenance, "read") && !strings.HasPrefix(provenance, "house rule")
}

// holds reports whether v is within the limit.
func (l *Limit) holds(v Value) bool {
	switch {
	case l.None:
		return true
	case l.Least:
		return v >= l.Bound
	default:
		return v <= l.Bound
	}
}

// Condition restricts a limit to some honey; all that is set must hold.
type Condition struct {
	// Sources are floral sources, any of which will do.
	Sources []string
	// Claim is something said of the honey, e.g. "PASTEURIZED".
	Claim Claim
	// Factor must have been given, at most Most.
	Factor Factor
	Most   Value
	// Words say the condition, e.g. "marked pasteurized".
	Words string
}

// rule is what a standard asks of one factor.
type rule struct {
	factor Factor
	// scored factors add up to the total.
	scored bool
	// styles that are judged by it; none means all.
	styles []Style
	// limits by grade, the first whose condition holds counts; the last grade has none.
	limits [][]Limit
	// holdsFrom is the grade from which the factor holds the whole sample down; better ranges only lower the total.
	holdsFrom   int
	holdsSwitch *Switch
	scale       *scale
}

// labelRule judges a colour marked on a label: the honey must be of that class of the standard's scale, or paler.
type labelRule struct {
	rule
	source, provenance string
}

// scale raises the total of a style to the full basis.
type scale struct {
	style    Style
	from, to int64
	by       *Switch
}

func (r *rule) judges(style Style) bool {
	for _, s := range r.styles {
		if s == style {
			return true
		}
	}
	return len(r.styles) == 0
}

// Limits lists every figure in the order of the data, for people to read.
func (s *Standard) Limits() []Limit {
	var all []Limit
	for i := range s.rules {
		for _, ofGrade := range s.rules[i].limits {
			all = append(all, ofGrade...)
		}
	}
	return all
}

// Colors lists the colour scale, palest first; empty where the standard has none.
func (s *Standard) Colors() []ColorClass { return s.colors }

// Required lists the factors a certificate of a style needs: those of the grade, and the colour where there is a scale.
func (s *Standard) Required(style Style) []Factor {
	var required []Factor
	for i := range s.rules {
		if r := &s.rules[i]; r.factor != Total && r.judges(style) {
			required = append(required, r.factor)
		}
	}
	if len(s.colors) > 0 {
		required = append(required, Color)
	}
	return required
}

// findSwitch finds a switch by id.
func (s *Standard) findSwitch(id string) *Switch {
	for i := range s.Switches {
		if s.Switches[i].ID == id {
			return &s.Switches[i]
		}
	}
	return nil
}
