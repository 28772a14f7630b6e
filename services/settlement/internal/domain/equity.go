package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// EquityLot is what was retained from one member for one crop year, and what of it was given back.
type EquityLot struct {
	Member   string
	CropYear int
	Issued   quantity.Money
	Redeemed quantity.Money
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
	Parts      []Redeemed
}

// Redeemed is one member's part.
type Redeemed struct {
	ID     uuid.UUID
	Member string
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

// Redeem takes the same part of every lot of the year, which must be the oldest with a balance: capital revolves, and nobody
// is passed over. lots are those of all members and years, in any order. Errors: *StateError.
func (r *Redemption) Redeem(lots []EquityLot) error {
	oldest := 0
	for _, l := range lots {
		if l.Balance() > 0 && (oldest == 0 || l.CropYear < oldest) {
			oldest = l.CropYear
		}
	}
	if oldest == 0 {
		return &StateError{Resource: "equity", State: "NO_EQUITY", Message: "no member has equity to be given back"}
	}
	if r.CropYear != oldest {
		return &StateError{
			Resource: "equity", State: "NOT_OLDEST",
			Message: fmt.Sprintf("equity of crop year %d is not redeemed before that of %d, the oldest there is", r.CropYear, oldest),
		}
	}
	for _, l := range lots {
		if l.CropYear != r.CropYear || l.Balance() <= 0 {
			continue
		}
		amount, err := r.Percent.Of(int64(l.Balance()))
		if err != nil {
			return fmt.Errorf("part of %s: %w", l.Member, err)
		}
		if amount > 0 {
			r.Parts = append(r.Parts, Redeemed{ID: uuid.NewSHA1(r.ID, []byte(l.Member)), Member: l.Member, Amount: min(quantity.Money(amount), l.Balance())})
		}
	}
	return nil
}
