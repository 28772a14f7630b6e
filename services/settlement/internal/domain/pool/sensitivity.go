package pool

import (
	"errors"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

const (
	// expenseStep is how much expenses differ for each unit of weight paid for: a hundredth of the currency.
	expenseStep = quantity.Price(10_000)
	// unsoldStep is how much the value of unsold honey differs.
	unsoldStep = quantity.Percent(5_00)
)

// Shifted is which figure of a closing differs.
type Shifted int

// The figures a board asks about before it votes.
const (
	MoreExpenses Shifted = iota + 1
	LessExpenses
	MoreUnsold
	LessUnsold
)

// Variant is a closing with one figure changed.
type Variant struct {
	Change Shifted
	// Shift is what there is to distribute more; negative for less.
	Shift quantity.Money
	// Refused is why such a pool could not be closed; nil otherwise.
	Refused *domain.StateError
	Summary *Summary

	reckoning *Reckoning
}

// Sensitivity solves a closing several times over, each time with one figure changed, by the engine that solves it.
type Sensitivity struct{ variants []*Variant }

// Unsold is the value of the honey that goes to other pools, of the entries a closing was made of.
func Unsold(head Head, entries []*Record) (sum quantity.Money) {
	made := map[uuid.UUID]bool{}
	for _, e := range head.Entries {
		made[e.Entry] = true
	}
	for _, e := range entries {
		if made[e.ID] && e.Kind == Proceeds && e.Counter != (uuid.UUID{}) {
			sum += e.Amount
		}
	}
	return sum
}

// NewSensitivity declares the prices of the variants. head must be canonical. Without unsold honey there is nothing to vary of
// it. Errors: quantity.ErrRange.
func NewSensitivity(head Head, heaps []Heap, unsold quantity.Money) (*Sensitivity, error) {
	var payable quantity.Mass
	for _, h := range heaps {
		payable += quantity.Mass(h.Barrels) * h.Payable
	}
	cost, err := expenseStep.Times(payable)
	if err != nil {
		return nil, err
	}
	part, err := unsoldStep.Of(int64(unsold))
	if err != nil {
		return nil, err
	}
	s := &Sensitivity{variants: []*Variant{{Change: MoreExpenses, Shift: -cost}, {Change: LessExpenses, Shift: cost}}}
	if unsold != 0 {
		s.variants = append(s.variants, &Variant{Change: MoreUnsold, Shift: quantity.Money(part)}, &Variant{Change: LessUnsold, Shift: -quantity.Money(part)})
	}
	for _, v := range s.variants {
		changed := head
		changed.Entries = append(append([]Entry{}, head.Entries...), Entry{Amount: v.Shift})
		v.reckoning, err = Reckon(changed.Canonical(), heaps)
		if err != nil && !errors.As(err, &v.Refused) {
			return nil, err
		}
	}
	return s, nil
}

// Add values the next barrel in every variant that can be closed. Errors: as for Reckoning.Value.
func (s *Sensitivity) Add(b *Barrel, _ []Kept) error {
	for _, v := range s.variants {
		if v.Refused != nil {
			continue
		}
		if _, err := v.reckoning.Value(b); err != nil {
			return err
		}
	}
	return nil
}

// Finish sums them. Errors: *domain.TotalError.
func (s *Sensitivity) Finish() ([]*Variant, error) {
	for _, v := range s.variants {
		if v.Refused != nil {
			continue
		}
		var err error
		if v.Summary, _, err = v.reckoning.Finish(); err != nil {
			return nil, err
		}
	}
	return s.variants, nil
}
