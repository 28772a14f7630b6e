package domain

import (
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Drum is the steel container, an asset that comes back year after year.
type Drum struct {
	Tag   string
	Asset Asset
	// Fill is the barrel in it, nil when the drum is free.
	Fill *Fill
	// Tares are the empty weights known of earlier fills, newest first.
	Tares []Tare
}

// Fill is the barrel a drum holds, as far as the drum is concerned.
type Fill struct {
	Barrel    uuid.UUID
	Ticket    Ticket
	Tare      quantity.Mass
	TareKind  TareKind
	WeighTime time.Time
}

// Tare is one empty weight of a drum.
type Tare struct {
	Weight  quantity.Mass
	Weighed bool
	Time    time.Time
}

// Release is the end of fillings: drums emptied, or barrels that count no more.
type Release struct {
	Barrels []uuid.UUID
	// EmptyWeight is what the drum weighed after emptying, zero if nobody weighed it.
	EmptyWeight quantity.Mass
	Reason      string
	Releaser    string
	Time        time.Time
}

// Name is the resource name.
func (d Drum) Name() string { return "drums/" + d.Tag }

// LastTare prefers a weight somebody measured over one that was painted or said, and a newer over an older one. The zero
// Tare means that none is known.
func (d Drum) LastTare() Tare {
	all := d.Tares
	if d.Fill != nil {
		all = append([]Tare{{Weight: d.Fill.Tare, Weighed: d.Fill.TareKind.Weighed(), Time: d.Fill.WeighTime}}, all...)
	}
	for _, t := range all {
		if t.Weighed {
			return t
		}
	}
	if len(all) > 0 {
		return all[0]
	}
	return Tare{}
}

// MayRelease refuses to free a drum that is free, or whose delivery is still being weighed.
func (d Drum) MayRelease() error {
	if d.Fill == nil {
		return stateForbids(d.Name(), "FREE", "drum %s is free already", d.Tag)
	}
	if d.Fill.Ticket.State == Open {
		return stateForbids(d.Name(), "BEING_RECEIVED", "drum %s is on ticket %s, which is still open: close or cancel the ticket first",
			d.Tag, d.Fill.Ticket.Number)
	}
	return nil
}

// EmptyWeight refuses an empty drum that weighs nothing.
func EmptyWeight(m quantity.Mass, unit quantity.Unit) error {
	if m > 0 {
		return nil
	}
	return outOfRange("empty_weight", quantity.Mass(1).String(), "", "an empty drum cannot weigh %s: weigh it again, or leave the weight out",
		m.Say(unit))
}
