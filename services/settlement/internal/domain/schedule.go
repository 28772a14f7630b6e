package domain

import (
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// Schedule is a dated price table of one crop year. It is never edited: a correction is a new version.
type Schedule struct {
	ID        uuid.UUID
	CropYear  int
	Version   int
	Effective Date
	Rows      []PriceRow
	Moisture  MoistureRule
	Charges   []Charge
	Drafter   string
	DraftTime time.Time
	// Resolution, Adopter and AdoptTime are empty in a draft.
	Resolution string
	Adopter    string
	AdoptTime  time.Time
}

// Adopted reports whether the board's resolution is recorded.
func (s *Schedule) Adopted() bool { return !s.AdoptTime.IsZero() }

// PriceRow is one cell of the price matrix. An empty variety is every floral source without a row of its own.
type PriceRow struct {
	Variety    string
	ColorClass string
	Grade      string
	Advance    quantity.Price
}

// MoistureRule says how water above the base is not paid.
type MoistureRule struct {
	// Base is the water up to which the full weight is paid.
	Base quantity.Percent
	// Step comes off the price for each full or part 0.1 % above the base; zero for none.
	Step quantity.Price
}

// Basis is what the rate of a charge is multiplied with.
type Basis int

// The three bases. The numbers are those of the wire and of the stored schedule.
const (
	BasisNet Basis = iota + 1
	BasisPayable
	BasisBarrel
)

// Charge is taken off a payout on the authority of a paper the member agreed to.
type Charge struct {
	Code        string
	Description string
	Authority   string
	Basis       Basis
	// Retained is true for what stays the member's own as capital.
	Retained bool
	// Rate is per unit of mass, for the weight bases.
	Rate quantity.Price
	// Amount is per barrel, for BasisBarrel.
	Amount quantity.Money
}

// InForce is the schedule that prices a delivery: the highest adopted version of the crop year that was effective on the
// delivery date. It is nil when there is none. A later version never reaches back beyond its own effective date.
func InForce(schedules []*Schedule, cropYear int, delivered Date) *Schedule {
	var best *Schedule
	for _, s := range schedules {
		if !s.Adopted() || s.CropYear != cropYear || s.Effective > delivered {
			continue
		}
		if best == nil || s.Version > best.Version {
			best = s
		}
	}
	return best
}

// Adopt returns the schedule with the board's resolution. among are the other schedules of the crop year.
func (s Schedule) Adopt(resolution, adopter string, at time.Time, among []*Schedule) (*Schedule, error) {
	if s.Adopted() {
		return nil, &StateError{
			Resource: s.Name(), State: "ADOPTED",
			Message: "this schedule was adopted by " + s.Resolution + "; a correction is a new version",
		}
	}
	if adopter == s.Drafter {
		return nil, &SamePersonError{First: s.Drafter, Message: "the person who drafted a schedule cannot adopt it; another board member must"}
	}
	for _, other := range among {
		if other.Adopted() && other.CropYear == s.CropYear && other.Effective == s.Effective {
			return nil, &OverlapError{Schedule: other.Name(), CropYear: s.CropYear, Effective: s.Effective}
		}
	}
	s.Resolution, s.Adopter, s.AdoptTime = resolution, adopter, at
	return &s, nil
}

// Name is "schedules/{uuid}".
func (s *Schedule) Name() string { return "schedules/" + s.ID.String() }
