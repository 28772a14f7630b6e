package domain

import (
	"errors"

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
}

// Net is gross − tare.
func (w Weighing) Net() quantity.Mass { return w.Gross - w.Tare }

// Place is what a weighing meets: the ticket it goes on and the scale it stood on.
type Place struct {
	// Ticket is the head with the new barrel counted in; its State is empty when it is not open.
	Ticket Ticket
	// Scale has an empty ID when there is none.
	Scale Scale
	// Filled is false when the barrel was not put in, because more has to be known of the drum first.
	Filled bool
}

// Weigh applies the rules of scale and indication. Errors, the first of: SCALE_CHECK_MISSING, UNSTABLE_READING,
// OUT_OF_RANGE (all weights at once).
func (s Scale) Weigh(w Weighing, unit quantity.Unit) error {
	if err := s.MayWeigh(); err != nil {
		return err
	}
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

// HasNet refuses a barrel without honey. It needs no scale, so it comes before anything is looked up.
func (w Weighing) HasNet(unit quantity.Unit) error {
	if w.Net() > 0 {
		return nil
	}
	return w.noNet(unit)
}

func (w Weighing) noNet(unit quantity.Unit) *Refusal {
	return outOfRange("gross", w.Tare.String(), "", "gross %s less tare %s leaves %s: check both weights",
		show(w.Gross, unit), show(w.Tare, unit), show(w.Net(), unit))
}

// vetTare holds a tare that was weighed to the steps of the scale; one that was painted or said may have any digits.
func (s Scale) vetTare(w Weighing, unit quantity.Unit) *Refusal {
	switch {
	case w.TareKind.Weighed():
		return s.indication("tare", w.Tare, unit)
	case w.Tare <= 0:
		return outOfRange("tare", quantity.Mass(1).String(), w.Gross.String(), "a tare of %s cannot be: enter the weight of the empty drum",
			show(w.Tare, unit))
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
