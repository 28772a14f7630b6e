package domain

import (
	"cmp"
	"fmt"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// Ownership says whose a drum is.
type Ownership string

// Whose a drum may be.
const (
	OwnedByCooperative Ownership = "COOPERATIVE"
	OwnedByMember      Ownership = "MEMBER"
	OwnedInExchange    Ownership = "EXCHANGE"
)

// Asset is what is known of a drum whatever is in it.
type Asset struct {
	Tag       string
	Container Container
	Ownership Ownership
	// Owner is the number of the member it belongs to, or empty.
	Owner        string
	RegisterTime time.Time
	RetireTime   time.Time
	RetireReason string
	// WeighedTare is the newest empty weight somebody measured, at WeighedTime; zero if nobody did.
	WeighedTare quantity.Mass
	WeighedTime time.Time
}

// Validate wants an owner exactly for members' drums.
func (a Asset) Validate() error {
	switch {
	case a.Ownership == OwnedByMember && a.Owner == "":
		return invalid("owner", "the owner is missing: say which member drum %s belongs to", a.Tag)
	case a.Ownership != OwnedByMember && a.Owner != "":
		return invalid("owner", "drum %s is not said to belong to a member: leave the owner out, or say that it does", a.Tag)
	default:
		return nil
	}
}

// Is says what a drum is: what it was registered as, else what the dock said. FIELD_INVALID when both differ.
func (a Asset) Is(said Container) (Container, error) {
	if a.Container == Unregistered || said == Unregistered || said == a.Container {
		return cmp.Or(a.Container, said), nil
	}
	return said, invalid("container", "drum %s is registered as %s, but %s was said: read the tag again, or have it registered anew", a.Tag,
		usualWeights[a.Container].words, usualWeights[said].words)
}

// MayBeFilled refuses a drum that was taken out of use.
func (a Asset) MayBeFilled() error {
	if a.RetireTime.IsZero() {
		return nil
	}
	return stateForbids(Drum{Tag: a.Tag}.Name(), "RETIRED", "drum %s was taken out of use (%s): move the honey to another drum", a.Tag,
		a.RetireReason)
}

// MayRegister refuses to say more of a drum that was taken out of use.
func (a Asset) MayRegister() error {
	if a.RetireTime.IsZero() {
		return nil
	}
	return stateForbids(Drum{Tag: a.Tag}.Name(), "RETIRED", "drum %s was taken out of use (%s): give another tag", a.Tag, a.RetireReason)
}

// MayRetire refuses a drum that is full or retired already.
func (d Drum) MayRetire() error {
	if d.Fill != nil {
		return DrumInUse(d.Tag, Barrel{ID: d.Fill.Barrel}.Name())
	}
	if !d.Asset.RetireTime.IsZero() {
		return stateForbids(d.Name(), "RETIRED", "drum %s was taken out of use already (%s)", d.Tag, d.Asset.RetireReason)
	}
	return nil
}

// judge lists what is unusual about a weighing in a known drum, the weights before how they were taken.
func (e Expectations) judge(w Weighing, a Asset) []warning {
	var found []warning
	bands, words := e.bands(a.Container), usualWeights[a.Container].words
	if !bands.Net.holds(w.Net()) && (!w.Part || w.Net() > bands.Net.High) {
		found = append(found, warning{"net", fmt.Sprintf("a net weight of %s is unusual for %s (usually %s to %s)",
			w.Net().Say(e.unit), words, bands.Net.Low.Say(""), bands.Net.High.Say(e.unit)), &bands.Net})
	}
	if !bands.Tare.holds(w.Tare) {
		found = append(found, warning{"tare", fmt.Sprintf("a tare of %s is unusual for %s (usually %s to %s)",
			w.Tare.Say(e.unit), words, bands.Tare.Low.Say(""), bands.Tare.High.Say(e.unit)), &bands.Tare})
	}
	if a.WeighedTare != 0 && abs(a.WeighedTare-w.Tare) > e.tarePolicy {
		near := Band{a.WeighedTare - e.tarePolicy, a.WeighedTare + e.tarePolicy}
		found = append(found, warning{"tare", fmt.Sprintf("drum %s weighed %s when it was last empty, but the tare says %s", a.Tag,
			a.WeighedTare.Say(e.unit), w.Tare.Say(e.unit)), &near})
	}
	if w.Manual {
		found = append(found, warning{"reason", "the weight was typed by hand instead of taken from the scale", nil})
	}
	return found
}

// Warnings says what is unusual about a weighing: what a clerk has to answer with a reason.
func (e Expectations) Warnings(w Weighing, a Asset) []string {
	return texts(e.judge(w, a))
}

// Answered refuses an unusual weighing without a reason.
func (e Expectations) Answered(w Weighing, a Asset) error { return answered(e.judge(w, a), w) }

func texts(found []warning) []string {
	all := make([]string, 0, len(found))
	for _, f := range found {
		all = append(all, f.text)
	}
	return all
}

func answered(found []warning, w Weighing) error {
	if len(found) > 0 && w.Reason == "" {
		return reasonRequired(found[0])
	}
	return nil
}
