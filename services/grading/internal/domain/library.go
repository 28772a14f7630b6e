package domain

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
)

// HouseStandard is what certificates are judged by.
const HouseStandard = "us-extracted-1985"

// Published is the library of the embedded data files. A file that is wrong stops the program: nothing may be graded by
// half a standard.
var Published = sync.OnceValue(func() *Library {
	lib, err := readLibrary(standardFiles, "standards", &Library{})
	if err != nil {
		panic(fmt.Errorf("embedded standards: %w", err))
	}
	return lib
})

// The shape of a data file. Figures are decimal strings, so that no reader turns them into floating point.
type standardFile struct {
	ID            string            `json:"id"`
	Title         string            `json:"title"`
	Version       string            `json:"version"`
	EffectiveDate string            `json:"effective_date"`
	Source        string            `json:"source"`
	Sources       map[string]string `json:"sources"`
	Grades        []struct {
		ID    string `json:"id"`
		Words string `json:"words"`
		Short string `json:"short"`
	} `json:"grades"`
	Switches []struct {
		ID         string `json:"id"`
		On         bool   `json:"on"`
		Meaning    string `json:"meaning"`
		Source     string `json:"source"`
		Provenance string `json:"provenance"`
	} `json:"switches"`
	Factors []factorFile `json:"factors"`
	Colors  []colorFile  `json:"colors"`
	// Label is the rule that honey is of the colour marked or paler; absent where there is none.
	Label *struct {
		Source     string `json:"source"`
		Provenance string `json:"provenance"`
	} `json:"label"`
}

type factorFile struct {
	Factor Factor      `json:"factor"`
	Scored bool        `json:"scored"`
	Styles []Style     `json:"styles"`
	Holds  *holdsFile  `json:"holds"`
	Scale  *scaleFile  `json:"scale"`
	Limits []limitFile `json:"limits"`
}

type holdsFile struct {
	From   string `json:"from"`
	Switch string `json:"switch"`
}

type scaleFile struct {
	Style  Style  `json:"style"`
	From   int64  `json:"from,string"`
	To     int64  `json:"to,string"`
	Switch string `json:"switch"`
}

type limitFile struct {
	Grade      string    `json:"grade"`
	AtMost     *string   `json:"at_most"`
	AtLeast    *string   `json:"at_least"`
	NoLimit    bool      `json:"no_limit"`
	Words      string    `json:"words"`
	When       *whenFile `json:"when"`
	Source     string    `json:"source"`
	Provenance string    `json:"provenance"`
}

type whenFile struct {
	Words   string   `json:"words"`
	Sources []string `json:"sources"`
	Claim   Claim    `json:"claim"`
	Factor  *Factor  `json:"factor"`
	AtMost  string   `json:"at_most"`
}

type colorFile struct {
	Class      string `json:"class"`
	Words      string `json:"words"`
	To         string `json:"to"`
	Under      string `json:"under"`
	Source     string `json:"source"`
	Provenance string `json:"provenance"`
}

// ParseStandard reads and checks a data file: unknown names, figures without source or provenance, and limits that do not
// loosen from grade to grade are errors.
func ParseStandard(text []byte) (*Standard, error) {
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	var file standardFile
	if err := decoder.Decode(&file); err != nil {
		return nil, fmt.Errorf("read: %w", err)
	}
	b := builder{file: &file, standard: &Standard{
		ID: file.ID, Title: file.Title, Version: file.Version, EffectiveDate: file.EffectiveDate, Source: file.Source,
	}}
	b.build()
	if len(b.faults) == 0 {
		b.standard.nameRanges()
	}
	return b.standard, errors.Join(b.faults...)
}

// builder turns a file into a standard and gathers what is wrong with it.
type builder struct {
	file     *standardFile
	standard *Standard
	faults   []error
}

func (b *builder) fault(format string, args ...any) {
	b.faults = append(b.faults, fmt.Errorf(format, args...))
}

func (b *builder) build() {
	if b.file.ID == "" || b.file.Title == "" || b.file.Version == "" || b.file.EffectiveDate == "" || b.file.Source == "" {
		b.fault("id, title, version, effective_date and source are required")
	}
	if _, err := time.Parse(time.DateOnly, b.file.EffectiveDate); b.file.EffectiveDate != "" && err != nil {
		b.fault("effective_date %q is no date", b.file.EffectiveDate)
	}
	for _, g := range b.file.Grades {
		b.standard.Grades = append(b.standard.Grades, Grade{ID: g.ID, Words: g.Words, Short: g.Short})
		if g.ID == "" || g.Words == "" || g.Short == "" {
			b.fault("grade %q needs id, words and short", g.ID)
		}
	}
	if len(b.standard.Grades) < 2 {
		b.fault("a standard has at least two outcomes")
		return
	}
	for _, s := range b.file.Switches {
		source := b.source("switch "+s.ID, s.Source, s.Provenance)
		b.standard.Switches = append(b.standard.Switches,
			Switch{ID: s.ID, On: s.On, Meaning: s.Meaning, Source: source, Provenance: s.Provenance})
	}
	for i := range b.file.Factors {
		b.standard.rules = append(b.standard.rules, b.rule(&b.file.Factors[i]))
	}
	b.colors()
	if l := b.file.Label; l != nil {
		b.standard.label = &labelRule{rule{factor: Color}, b.source("label", l.Source, l.Provenance), l.Provenance}
		if len(b.standard.colors) == 0 {
			b.fault("a label rule needs a colour scale")
		}
	}
}

// source resolves the key of a source and insists that every figure has one, and says how it is known.
func (b *builder) source(what, key, provenance string) string {
	text, ok := b.file.Sources[key]
	if !ok {
		b.fault("%s: source %q is not among the sources", what, key)
	}
	known := slices.ContainsFunc([]string{"read", "memory", "computed", "mixed", "house rule"},
		func(word string) bool { return strings.HasPrefix(provenance, word) })
	if !known {
		b.fault("%s: provenance %q does not say how the figure is known", what, provenance)
	}
	return text
}

func (b *builder) grade(what, id string) int {
	at := slices.IndexFunc(b.standard.Grades, func(g Grade) bool { return g.ID == id })
	if at < 0 {
		b.fault("%s: unknown grade %q", what, id)
		return 0
	}
	return at
}

func (b *builder) switchFor(what, id string) *Switch {
	s := b.standard.findSwitch(id)
	if s == nil {
		b.fault("%s: unknown switch %q", what, id)
		s = &Switch{}
	}
	return s
}

func (b *builder) value(what, s string) Value {
	v, err := ParseValue(s)
	if err != nil {
		b.fault("%s: %w", what, err)
	}
	return v
}

func (b *builder) rule(f *factorFile) rule {
	what := f.Factor.String()
	r := rule{factor: f.Factor, scored: f.Scored, styles: f.Styles, limits: make([][]Limit, len(b.standard.Grades))}
	if f.Holds != nil {
		r.holdsFrom, r.holdsSwitch = b.grade(what, f.Holds.From), b.switchFor(what, f.Holds.Switch)
	}
	if f.Scale != nil {
		r.scale = &scale{style: f.Scale.Style, from: f.Scale.From, to: f.Scale.To, by: b.switchFor(what, f.Scale.Switch)}
		if f.Scale.From <= 0 || f.Scale.To <= 0 {
			b.fault("%s: a scale needs two positive numbers", what)
		}
	}
	for i := range f.Limits {
		l := b.limit(f.Factor, &f.Limits[i])
		r.limits[l.Grade] = append(r.limits[l.Grade], l)
	}
	b.checkOrder(what, &r)
	return r
}

func (b *builder) limit(factor Factor, f *limitFile) Limit {
	what := fmt.Sprintf("%s of %s", factor, f.Grade)
	l := Limit{
		Grade: b.grade(what, f.Grade), Factor: factor, None: f.NoLimit, Words: f.Words,
		Source: b.source(what, f.Source, f.Provenance), Provenance: f.Provenance,
	}
	switch {
	case f.AtMost != nil && f.AtLeast == nil && !f.NoLimit:
		l.Bound = b.value(what, *f.AtMost)
	case f.AtLeast != nil && f.AtMost == nil && !f.NoLimit:
		l.Bound, l.Least = b.value(what, *f.AtLeast), true
	case f.NoLimit && f.AtMost == nil && f.AtLeast == nil:
	default:
		b.fault("%s: give one of at_most, at_least and no_limit", what)
	}
	if l.Grade == len(b.standard.Grades)-1 {
		b.fault("%s: the last grade takes what falls through and has no limits", what)
	}
	l.When = b.condition(what, f.When)
	return l
}

func (b *builder) condition(what string, f *whenFile) *Condition {
	if f == nil {
		return nil
	}
	c := &Condition{Sources: f.Sources, Claim: f.Claim, Words: f.Words}
	if f.Factor != nil {
		c.Factor, c.Most = *f.Factor, b.value(what, f.AtMost)
	}
	if c.Claim != "" && !slices.Contains(Claims(), c.Claim) {
		b.fault("%s: unknown claim %q", what, c.Claim)
	}
	if c.Words == "" || (len(c.Sources) == 0 && c.Claim == "" && c.Factor == 0) {
		b.fault("%s: a condition needs words and something to compare", what)
	}
	return c
}

// checkOrder insists that a worse grade never asks more than a better one: the engine takes the first that holds.
func (b *builder) checkOrder(what string, r *rule) {
	var better *Limit
	for g := range r.limits {
		for i := range r.limits[g] {
			l := &r.limits[g][i]
			if l.When != nil || l.None {
				continue
			}
			if better != nil && (l.Least != better.Least || (l.Least && l.Bound > better.Bound) || (!l.Least && l.Bound < better.Bound)) {
				b.fault("%s: %s asks more than the grade above it", what, b.standard.Grades[g].ID)
			}
			better = l
		}
	}
}

func (b *builder) colors() {
	var over Value
	from := false
	for i, f := range b.file.Colors {
		what := "colour " + f.Class
		c := ColorClass{
			ID: f.Class, Words: f.Words, over: over, from: from, last: f.To == "" && f.Under == "", open: f.Under != "",
			Source: b.source(what, f.Source, f.Provenance), Provenance: f.Provenance,
		}
		if c.last != (i == len(b.file.Colors)-1) {
			b.fault("%s: only the last class has no upper bound", what)
		}
		if !c.last {
			c.upTo = b.value(what, f.To+f.Under)
		}
		if !c.last && c.upTo <= over && i > 0 {
			b.fault("%s: the scale must rise", what)
		}
		over, from = c.upTo, c.open
		b.standard.colors = append(b.standard.colors, c)
	}
}

// StandardText is the data file of a standard as embedded.
func StandardText(id string) ([]byte, error) {
	text, err := standardFiles.ReadFile("standards/" + id + ".json")
	if err != nil {
		return nil, &NotFoundError{Resource: "standards/" + id}
	}
	return text, nil
}
