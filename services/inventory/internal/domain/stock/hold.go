package stock

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// Code says why something is held.
type Code string

// The hold codes.
const (
	Quality      Code = "QUALITY"
	Residue      Code = "RESIDUE"
	Authenticity Code = "AUTHENTICITY"
	Fermentation Code = "FERMENTATION"
	Documents    Code = "DOCUMENTS"
	Customer     Code = "CUSTOMER"
	Scale        Code = "SCALE"
	Recall       Code = "RECALL"
)

// House is the placer of holds no person placed.
const House = "inventory"

// Laboratory is the placer of holds that follow from its results.
const Laboratory = "grading"

// Kinds of what can be held, as in resource names.
const (
	OfBarrel = "stock"
	OfCharge = "charges"
	OfLot    = "packLots"
)

// Hold blocks a barrel, a charge or a lot until another person releases it.
type Hold struct {
	ID uuid.UUID
	// Barrel is what is held: a barrel, or by Kind a charge or a lot.
	Barrel uuid.UUID
	Kind   string
	// Cause is the hold it follows from; zero for one that was placed itself.
	Cause   uuid.UUID
	Code    Code
	Reason  string
	Placer  string
	Time    time.Time
	Release *Release
}

// Release ends a hold.
type Release struct {
	Releaser string
	Reason   string
	Time     time.Time
}

// HoldName is the resource name, "holds/{uuid}".
func HoldName(id uuid.UUID) string { return "holds/" + id.String() }

// Place is the name of what is held.
func (h Hold) Place() string { return h.Kind + "/" + h.Barrel.String() }

// Reaches tells whether the hold spreads to a kind of place made of what it holds. A doubt about a scale is about one weight:
// what was poured out since was weighed or metered again, what stands in other containers was not.
func (h Hold) Reaches(kind string) bool { return h.Code != Scale || kind == OfBarrel }

// Spread is the hold that follows for a place made of what is held. What follows from one that follows has the same cause.
func (h Hold) Spread(kind string, id uuid.UUID) Hold {
	cause, reason := h.ID, "made of what is held: "+h.Reason
	if h.Cause != uuid.Nil {
		cause, reason = h.Cause, h.Reason
	}
	return Hold{
		ID: uuid.NewSHA1(spread, fmt.Appendf(nil, "%s %s/%s", cause, kind, id)), Kind: kind, Barrel: id, Cause: cause, Code: h.Code,
		Reason: reason, Placer: h.Placer, Time: h.Time,
	}
}

// Hold blocks the barrel. A held barrel may be held again for another reason; a withdrawn one has nothing left to block.
func (i Item) Hold(id uuid.UUID, code Code, reason, placer string, now time.Time) (Hold, error) {
	if i.State == Withdrawn {
		return Hold{}, i.forbids(string(i.State), "held")
	}
	return Hold{ID: id, Kind: OfBarrel, Barrel: i.Barrel, Code: code, Reason: reason, Placer: placer, Time: now}, nil
}

// End releases the hold. Two people must have looked at the barrel: the placer cannot release it.
func (h Hold) End(releaser, reason string, now time.Time) (Hold, error) {
	if h.Release != nil {
		return Hold{}, &ReleasedError{Hold: h}
	}
	if h.Placer == releaser {
		return Hold{}, &SamePersonError{First: h.Placer}
	}
	h.Release = &Release{Releaser: releaser, Reason: reason, Time: now}
	return h, nil
}

// These tell the holds the house places by itself, of one cause and barrel, from all other uuids.
var (
	undeclared = uuid.MustParse("0d0c7a1e-5d0c-4b6e-9a53-9d1f0e6c51b7")
	suspected  = uuid.MustParse("b1c2a7d4-3e58-4f0b-9c61-2a7d90e4f315")
	spread     = uuid.MustParse("2f9d1c34-70a6-4d0f-8a55-61c3e8b7d2a9")
	doubted    = uuid.MustParse("7c1f5a52-2f0e-4b62-8d3c-5f6a1f2d9e04")
)

// Undeclared is the hold every barrel of a delivery without its harvest declaration gets when the ticket closes. Its id
// follows from ticket and barrel, so the same delivery never places it twice.
func Undeclared(ticket, barrel uuid.UUID, number string, closed time.Time) Hold {
	return Hold{
		ID:     uuid.NewSHA1(undeclared, append(ticket[:], barrel[:]...)),
		Kind:   OfBarrel,
		Barrel: barrel,
		Code:   Documents,
		Reason: "harvest and treatment declaration missing for ticket " + number,
		Placer: House,
		Time:   closed,
	}
}

// Doubted is the hold a barrel gets when the scale it was weighed on failed its next check.
func Doubted(review, barrel uuid.UUID, scale string, failed time.Time) Hold {
	return Hold{
		ID:     uuid.NewSHA1(doubted, append(review[:], barrel[:]...)),
		Kind:   OfBarrel,
		Barrel: barrel,
		Code:   Scale,
		Reason: scale + " failed its check after this barrel was weighed on it; weigh it again on a good scale",
		Placer: House,
		Time:   failed,
	}
}

// Suspected is the hold a barrel gets when a residue was found in a composite its sample is in, or in the sample itself. The
// blind code goes into the id alone: a reason is read by people who must not know it.
func Suspected(result uuid.UUID, sample string, barrel uuid.UUID, why string, found time.Time) Hold {
	return Hold{ID: SuspectedID(result, sample), Kind: OfBarrel, Barrel: barrel, Code: Residue, Reason: why, Placer: Laboratory, Time: found}
}

// SuspectedID is the id of that hold.
func SuspectedID(result uuid.UUID, sample string) uuid.UUID {
	return uuid.NewSHA1(suspected, append(result[:], sample...))
}
