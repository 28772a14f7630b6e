package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// ProgressPayment is a part-payment between the advance and the final: so much for each unit of payable weight, on all honey of
// an open pool, by resolution.
type ProgressPayment struct {
	ID          uuid.UUID
	Pool        uuid.UUID
	Title       string
	Rate        quantity.Price
	Proposer    string
	ProposeTime time.Time
	// Resolution and Adopter are empty before it is paid; the sums are what it was paid on then.
	Resolution string
	Adopter    string
	AdoptTime  *time.Time
	Sums       ProgressSums
	// Scope is which honey it is for, as its pool takes it now.
	Scope Scope
}

// ProgressSums are what a progress payment comes to.
type ProgressSums struct {
	Barrels  int
	Payable  quantity.Mass
	Amount   quantity.Money
	Credited quantity.Money
}

// Name is "progressPayments/{uuid}".
func (g *ProgressPayment) Name() string { return "progressPayments/" + g.ID.String() }

// Paid reports whether the board adopted it.
func (g *ProgressPayment) Paid() bool { return g.AdoptTime != nil }

// Adopt pays it. interested is true of a director whose own honey is in the pool. Errors: *StateError, *SamePersonError.
func (g *ProgressPayment) Adopt(resolution, adopter string, interested bool, at time.Time) error {
	if g.Paid() {
		return &StateError{Resource: g.Name(), State: "PAID", Message: "this progress payment was paid by " + g.Resolution}
	}
	if adopter == g.Proposer {
		return &SamePersonError{First: g.Proposer, Message: "the person who proposed a progress payment cannot adopt it"}
	}
	if interested {
		return &StateError{Resource: g.Name(), State: "OWN_HONEY", Message: "you have honey in this pool; another director records the resolution"}
	}
	g.Resolution, g.Adopter, g.AdoptTime = resolution, adopter, &at
	return nil
}

// credited is what an advance and the progress payments beside it have credited for the honey.
func (p *Payout) credited() quantity.Money { return p.Gross + p.Progressed }

// NewProgress is what each owner of a barrel gets of a progress payment, beside its advance.
func NewProgress(advances []*Payout, g *ProgressPayment, terms Terms, at time.Time) ([]*Payout, error) {
	whole := Join(advances)
	f := *whole
	f.Kind, f.Progress, f.Reason, f.Number, f.Time = Progress, g.ID, "", 0, at
	f.ID = uuid.NewSHA1(g.ID, []byte(PayoutID(whole.Barrel, whole.Certificate, Progress).String()))
	amount, err := times(g.Rate, whole.Payable)
	if err != nil {
		return nil, fmt.Errorf("progress payment on barrel %s: %w", whole.Barrel.DrumTag, err)
	}
	rate, payable := g.Rate, whole.Payable
	f.Lines = []Line{{
		Kind: LineHoney, Description: "Progress payment of pool " + g.Title, Quantity: &payable, Rate: &rate, Amount: amount,
		Why: Explanation{
			Rule:        fmt.Sprintf("The board resolved a part-payment on all honey of the pool %q before it is closed. It is part of the pool's price and is taken off the final.", g.Title),
			Calculation: fmt.Sprintf("%s × %s = %s", terms.mass(payable), terms.price(rate), terms.money(amount)), Authority: g.Resolution,
			Certificate: "certificates/" + whole.Certificate.String(), CertificateNumber: whole.CertificateNumber,
			Inputs: map[string]string{"payable": terms.mass(payable), "rate": terms.price(rate), "pool": g.Title},
		},
	}}
	f.Gross, f.Net, f.Progressed = amount, amount, 0
	f.Headline = fmt.Sprintf("A part-payment of %s per %s before the pool is closed: %s for barrel %s.", terms.price(rate), terms.unit(), terms.money(amount), whole.Barrel.DrumTag)
	if err := f.Check(); err != nil {
		return nil, err
	}
	if !advances[0].Shared() {
		f.Share = WholeShare
		return []*Payout{&f}, nil
	}
	return f.split(terms, nil)
}

// progressAgain are the progress payments of a barrel that is priced: those of every open pool that takes it.
func (p *Pricer) progressAgain(advances []*Payout, at time.Time) ([]*Payout, error) {
	var out []*Payout
	for _, g := range p.progress {
		if !g.Scope.Takes(advances[0].Barrel.CropYear, advances[0].Barrel.Variety) {
			continue
		}
		made, err := NewProgress(advances, g, p.terms, at)
		if err != nil {
			return nil, err
		}
		out = append(out, made...)
	}
	return out, nil
}
