package domain

import (
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// TareVariance is an emptied drum that weighed otherwise than its ticket said.
type TareVariance struct {
	Barrel      uuid.UUID
	Ticket      uuid.UUID
	Member      string
	DrumTag     string
	Tare        quantity.Mass
	TareKind    TareKind
	EmptyWeight quantity.Mass
	Allowed     quantity.Mass
	Finder      string
	FindTime    time.Time
}

// Name is the resource name; a barrel is emptied once, so it is that of the barrel.
func (v TareVariance) Name() string { return "tareVariances/" + v.Barrel.String() }

// NetCorrection is what would correct the net weight: negative when the drum was heavier than said.
func (v TareVariance) NetCorrection() quantity.Mass { return v.Tare - v.EmptyWeight }

// TarePolicy is how far an empty drum may be off its tare before somebody has to look: 2 lb or 0.9 kg (common practice,
// no source).
func TarePolicy(unit quantity.Unit) quantity.Mass {
	if unit == quantity.KG {
		return 900
	}
	return 2_000
}

// Variance compares an emptied drum with the tare of its filling. It is nil when the drum was not weighed or is within
// what is allowed, the limit included.
func (d Drum) Variance(r Release, allowed quantity.Mass) *TareVariance {
	if r.EmptyWeight == 0 || abs(d.Fill.Tare-r.EmptyWeight) <= allowed {
		return nil
	}
	return &TareVariance{
		Barrel: d.Fill.Barrel, Ticket: d.Fill.Ticket.ID, Member: d.Fill.Ticket.Member, DrumTag: d.Tag, Tare: d.Fill.Tare,
		TareKind: d.Fill.TareKind, EmptyWeight: r.EmptyWeight, Allowed: allowed, Finder: r.Releaser, FindTime: r.Time,
	}
}
