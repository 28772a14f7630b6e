package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// EquityClass is what kind of capital a lot is. The numbers are those of the wire.
type EquityClass int

// The classes. A retain is stored as undesignated, whatever the board says about its crop year later.
const (
	RetainUndesignated EquityClass = iota + 1
	RetainQualified
	RetainNonqualified
	PatronageQualified
	PatronageNonqualified
)

// Retained reports whether the lot is a per-unit retain.
func (c EquityClass) Retained() bool { return c <= RetainNonqualified }

// stored is the class a redemption of the lot is kept under.
func (c EquityClass) stored() EquityClass {
	if c.Retained() {
		return RetainUndesignated
	}
	return c
}

// EquityLot is the capital of one class one member has of one crop year, and what of it was given back.
type EquityLot struct {
	Member   string
	CropYear int
	Class    EquityClass
	Issued   quantity.Money
	// Redeemed is what stands given back: Given and its corrections. It is never above Issued.
	Redeemed quantity.Money
	// Given is what the resolutions gave back.
	Given quantity.Money
}

// Balance is what is left of a lot.
func (l EquityLot) Balance() quantity.Money { return l.Issued - l.Redeemed }

// Redemption is equity of a crop year given back by resolution.
type Redemption struct {
	ID         uuid.UUID
	CropYear   int
	Percent    quantity.Percent
	Resolution string
	Declarer   string
	Time       time.Time
	// Estate is the member it is for, before its turn; empty for all members.
	Estate string
	Parts  []Redeemed
}

// Redeemed is one member's part.
type Redeemed struct {
	ID     uuid.UUID
	Member string
	Class  EquityClass
	Amount quantity.Money
}

// Name is "redemptions/{uuid}".
func (r *Redemption) Name() string { return "redemptions/" + r.ID.String() }

// Name is "redeemed/{uuid}".
func (p Redeemed) Name() string { return "redeemed/" + p.ID.String() }

// Total is the sum of the parts.
func (r *Redemption) Total() (sum quantity.Money) {
	for _, p := range r.Parts {
		sum += p.Amount
	}
	return sum
}

// Members counts who gets something.
func (r *Redemption) Members() int {
	seen := map[string]bool{}
	for _, p := range r.Parts {
		seen[p.Member] = true
	}
	return len(seen)
}

// Redeem takes the same part of every lot of the year, which must be the oldest with a balance: capital revolves, and nobody
// is passed over but for an estate. lots are those of all members and years, in any order. Errors: *StateError.
func (r *Redemption) Redeem(lots []EquityLot) error {
	if err := r.inTurn(lots); err != nil {
		return err
	}
	for _, l := range lots {
		if l.CropYear != r.CropYear || l.Balance() <= 0 || r.Estate != "" && l.Member != r.Estate {
			continue
		}
		amount, err := r.Percent.Of(int64(l.Balance()))
		if err != nil {
			return fmt.Errorf("part of %s: %w", l.Member, err)
		}
		if amount > 0 {
			r.Parts = append(r.Parts, Redeemed{ID: r.partID(l), Member: l.Member, Class: l.Class.stored(), Amount: min(quantity.Money(amount), l.Balance())})
		}
	}
	if r.Estate != "" && len(r.Parts) == 0 {
		return r.noEquity(fmt.Sprintf("%s has no equity of crop year %d to be given back", r.Estate, r.CropYear))
	}
	return nil
}

func (r *Redemption) inTurn(lots []EquityLot) error {
	oldest := 0
	for _, l := range lots {
		if l.Balance() > 0 && (oldest == 0 || l.CropYear < oldest) {
			oldest = l.CropYear
		}
	}
	switch {
	case oldest == 0:
		return r.noEquity("no member has equity to be given back")
	case r.Estate == "" && r.CropYear != oldest:
		return &StateError{
			Resource: "equity", State: "NOT_OLDEST",
			Message: fmt.Sprintf("equity of crop year %d is not redeemed before that of %d, the oldest there is", r.CropYear, oldest),
		}
	}
	return nil
}

func (r *Redemption) noEquity(message string) error {
	return &StateError{Resource: "equity", State: "NO_EQUITY", Message: message}
}

// partID keeps the identity retains have always had.
func (r *Redemption) partID(l EquityLot) uuid.UUID {
	if l.Class.Retained() {
		return uuid.NewSHA1(r.ID, []byte(l.Member))
	}
	return uuid.NewSHA1(r.ID, fmt.Appendf(nil, "%s/%d", l.Member, l.Class))
}
