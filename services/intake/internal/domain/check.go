package domain

import (
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Check is the trial of a scale against known weights.
type Check struct {
	ID    uuid.UUID
	Scale string
	// Ordinal counts the checks of this scale from 1. A barrel keeps the ordinal it was weighed under, so that what a later
	// failure puts in doubt is known exactly and not by comparing clocks.
	Ordinal int64
	Zero    quantity.Mass
	Loads   []Load
	Column  Column
	Passed  bool
	// Seal is the seal or event counter as it read, empty if nobody looked.
	Seal    string
	Checker string
	Time    time.Time
	// Date is the cooperative's local date of Time.
	Date    string
	Finding string
	// Class is that of the scale, which decides about the table of tolerances.
	Class Class
}

// Load is one test weight on the platform.
type Load struct {
	WeightID   string
	Known      quantity.Mass
	Indication quantity.Mass
	// Position is "CENTRE" or a corner, "A" to "D".
	Position  string
	Tolerance quantity.Mass
	Error     quantity.Mass
	Passed    bool
}

// Name is the resource name, "scales/1/checks/{uuid}".
func (c Check) Name() string { return "scales/" + c.Scale + "/checks/" + c.ID.String() }

// Centre is the position of a weight placed in the middle.
const Centre = "CENTRE"

var positions = map[string]bool{Centre: true, "A": true, "B": true, "C": true, "D": true}

// Judge fills in tolerance, error and verdict of every load and of the whole check. Errors: FIELD_INVALID and
// OUT_OF_RANGE for numbers the scale cannot have shown; all at once.
func (s Scale) Judge(c *Check, unit quantity.Unit) error {
	if err := s.vetCheck(c, unit); err != nil {
		return err
	}
	c.Class = s.Class
	zero := Load{WeightID: "zero", Indication: c.Zero, Position: Centre}
	s.judgeLoad(&zero, c.Column)
	worst := zero
	c.Passed = zero.Passed
	for i := range c.Loads {
		l := &c.Loads[i]
		s.judgeLoad(l, c.Column)
		c.Passed = c.Passed && l.Passed
		if l.worseThan(worst) {
			worst = *l
		}
	}
	c.Finding = worst.finding(unit)
	return nil
}

func (s Scale) judgeLoad(l *Load, column Column) {
	l.Tolerance = Tolerance(s.Class, column, l.Known, s.Division)
	l.Error = l.Indication - l.Known
	l.Passed = abs(l.Error) <= l.Tolerance
}

// worseThan compares by how much of its tolerance each error uses, as exact fractions.
func (l Load) worseThan(other Load) bool {
	return int64(abs(l.Error))*int64(other.Tolerance) > int64(abs(other.Error))*int64(l.Tolerance)
}

func (l Load) finding(unit quantity.Unit) string {
	verdict := "within"
	if !l.Passed {
		verdict = "outside"
	}
	at := fmt.Sprintf("at %s with weight %s", l.Known.Say(unit), l.WeightID)
	if l.Known == 0 {
		at = "at zero"
	}
	if l.Position != Centre {
		at += " on corner " + l.Position
	}
	return fmt.Sprintf("%s the limit: the largest error was %s %s, allowed ±%s", verdict, signed(l.Error, unit), at,
		l.Tolerance.Say(unit))
}

func (s Scale) vetCheck(c *Check, unit quantity.Unit) error {
	var faults []error
	add := func(r *Refusal) {
		if r != nil {
			faults = append(faults, r)
		}
	}
	add(s.offDivision("zero_indication", c.Zero, unit))
	loaded := false
	for i := range c.Loads {
		l := &c.Loads[i]
		if l.Position == "" {
			l.Position = Centre
		}
		field := fmt.Sprintf("loads[%d].", i)
		if !positions[l.Position] {
			add(invalid(field+"position", "position %q is unknown: use CENTRE or a corner, A to D", l.Position))
		}
		if l.Known < 0 || l.Known > s.Capacity {
			add(outOfRange(field+"known", "0.0", s.Capacity.String(), "a test weight of %s does not fit %s: its capacity is %s",
				l.Known.Say(unit), s.label(), s.Capacity.Say(unit)))
		}
		if l.Indication > s.Most() {
			add(outOfRange(field+"indication", "0.0", s.Most().String(), "%s is above 105 %% of the capacity of %s",
				l.Indication.Say(unit), s.label()))
		}
		add(s.offDivision(field+"indication", l.Indication, unit))
		loaded = loaded || l.Known > 0
	}
	if !loaded {
		add(invalid("loads", "no weight was tried: a check needs at least one test weight above zero"))
	}
	return errors.Join(faults...)
}

func abs(m quantity.Mass) quantity.Mass {
	if m < 0 {
		return -m
	}
	return m
}
