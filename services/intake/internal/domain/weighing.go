package domain

import (
	"errors"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// TareKind says where a tare came from.
type TareKind string

// Where a tare may come from.
const (
	TareWeighedEmpty TareKind = "WEIGHED_EMPTY"
	TareStencilled   TareKind = "STENCILLED"
	TareClass        TareKind = "CLASS"
	TareDeclared     TareKind = "DECLARED"
	TareReweighed    TareKind = "REWEIGHED_AFTER_EMPTYING"
)

// Weighed reports whether the tare stood on a scale, as opposed to being read or said.
func (k TareKind) Weighed() bool { return k == TareWeighedEmpty || k == TareReweighed }

// Weighing is what the clerk sends of one barrel.
type Weighing struct {
	Gross    quantity.Mass
	Tare     quantity.Mass
	TareKind TareKind
	// RawIndication is what the indicator sent.
	RawIndication string
	Stable        bool
	Manual        bool
	Reason        string
	// Part is a drum that is not full on purpose.
	Part bool
	// Paper is book and line of the paper book, or empty.
	Paper string
}

// Net is gross − tare.
func (w Weighing) Net() quantity.Mass { return w.Gross - w.Tare }

// Place is what a weighing meets: the ticket it goes on, the scale it stood on, the drum it is in.
type Place struct {
	Ticket Ticket
	// Scale has an empty ID when there is none.
	Scale Scale
	Asset Asset
	// Before and After are the checks of the scale around the weighing, nil where there is none. After is always nil for a
	// weighing of now.
	Before, After *Check
	// KnownChecks is how many checks the scale has seen by now.
	KnownChecks int64
	// ClassTares are those in force and Today the local date; only for a weighing with a class tare.
	ClassTares ClassTares
	Today      string
	// OpenBarrel fills the drum already; uuid.Nil when the drum is free.
	OpenBarrel uuid.UUID
}

// CheckOrdinal is the number of the newest check at the time of the weighing.
func (p Place) CheckOrdinal() int64 {
	if p.Before == nil {
		return 0
	}
	return p.Before.Ordinal
}

// Weigh applies every rule of one weighing in a place and returns the warnings it was answered for. Errors, the first of:
// STATE_FORBIDS, NOT_FOUND of the scale, SCALE_CHECK_MISSING, UNSTABLE_READING, OUT_OF_RANGE (all weights at once),
// DRUM_IN_USE, REASON_REQUIRED.
func (p Place) Weigh(w Weighing, e Expectations) ([]string, error) {
	if err := p.Ticket.MayChange(); err != nil {
		return nil, err
	}
	if err := p.Scale.BelievedAt(p.Before, p.After); err != nil {
		return nil, err
	}
	if err := p.Scale.Weigh(w, e.unit); err != nil {
		return nil, err
	}
	if err := p.Asset.MayBeFilled(); err != nil {
		return nil, err
	}
	if p.OpenBarrel != uuid.Nil {
		return nil, DrumInUse(p.Asset.Tag, Barrel{ID: p.OpenBarrel}.Name())
	}
	found := append(e.judge(w, p.Asset), p.ClassTares.judge(w, p.Asset.Container, p.Today, e.unit)...)
	return texts(found), answered(found, w)
}

// Weigh applies the rules of the indication and the scale's limits.
func (s Scale) Weigh(w Weighing, unit quantity.Unit) error {
	if !w.Stable && !w.Manual {
		return unstable(w.RawIndication)
	}
	return s.vetWeights(w, unit)
}

func (s Scale) vetWeights(w Weighing, unit quantity.Unit) error {
	var faults []error
	if r := s.indication("gross", w.Gross, unit); r != nil {
		faults = append(faults, r)
	}
	if r := s.vetTare(w, unit); r != nil {
		faults = append(faults, r)
	}
	if len(faults) == 0 && w.Net() <= 0 {
		faults = append(faults, w.noNet(unit))
	}
	return errors.Join(faults...)
}

func (w Weighing) noNet(unit quantity.Unit) *Refusal {
	return outOfRange("gross", w.Tare.String(), "", "gross %s less tare %s leaves %s: check both weights",
		w.Gross.Say(unit), w.Tare.Say(unit), w.Net().Say(unit))
}

// vetTare holds a tare that was weighed to the steps of the scale; one that was painted or said may have any digits.
func (s Scale) vetTare(w Weighing, unit quantity.Unit) *Refusal {
	switch {
	case w.TareKind.Weighed():
		return s.indication("tare", w.Tare, unit)
	case w.Tare <= 0:
		return outOfRange("tare", quantity.Mass(1).String(), w.Gross.String(), "a tare of %s cannot be: enter the weight of the empty drum",
			w.Tare.Say(unit))
	default:
		return nil
	}
}

func unstable(raw string) *Refusal {
	return &Refusal{
		reason: "UNSTABLE_READING", field: "stable",
		message:  "the scale is still moving: wait until it stands still, then take the weight again",
		metadata: map[string]string{"field": "stable", "indication": raw},
	}
}

func reasonRequired(w warning) *Refusal {
	r := &Refusal{
		reason: "REASON_REQUIRED", field: w.field, message: w.text + ": check it, or say in reason why it is right",
		metadata: map[string]string{"field": w.field},
	}
	if w.band != nil {
		r.metadata["low"], r.metadata["high"] = w.band.Low.String(), w.band.High.String()
	}
	return r
}

// warning is an unusual fact a clerk may answer with a reason.
type warning struct {
	field string
	text  string
	band  *Band
}
