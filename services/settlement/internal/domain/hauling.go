package domain

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/services/kit/quantity"
)

// HaulingRate is what hauling from a zone costs from a delivery date on.
type HaulingRate struct {
	Zone       string
	Effective  Date
	Rate       quantity.Price
	Resolution string
	Setter     string
	Time       time.Time
}

// Hauled is a barrel of a fetched delivery.
type Hauled struct {
	Barrel uuid.UUID
	Member string
	Net    quantity.Mass
	Date   Date
	Owners []Owner
	// HauledBySchedule is true where the prices took hauling off already.
	HauledBySchedule bool
}

var zoneForm = regexp.MustCompile(`^[A-Z0-9]{1,4}$`)

// Validate lists everything wrong with a new rate at once.
func (r HaulingRate) Validate() []FieldFault {
	var faults []FieldFault
	if !zoneForm.MatchString(r.Zone) {
		faults = append(faults, FieldFault{Path: "zone", Message: "must be one to four capital letters or digits"})
	}
	if r.Rate < 0 {
		faults = append(faults, FieldFault{Path: "rate", Message: fmt.Sprintf("is %v; it must be 0 or more", r.Rate)})
	}
	if n := len([]rune(strings.TrimSpace(r.Resolution))); n < 3 || n > 120 {
		faults = append(faults, FieldFault{Path: "resolution", Message: fmt.Sprintf("has %d characters; name the resolution in 3 to 120", n)})
	}
	return faults
}

// RateFor is the rate of a zone on a delivery date. rates are the latest first. Errors: *StateError.
func RateFor(rates []HaulingRate, zone string, on Date) (HaulingRate, error) {
	for _, r := range rates {
		if r.Zone == zone && r.Effective <= on {
			return r, nil
		}
	}
	return HaulingRate{}, &StateError{Resource: "hauling", State: "NO_RATE", Message: fmt.Sprintf("zone %q has no hauling rate for a delivery of %s", zone, on)}
}

// ChargeHauling charges a delivery: its weight times the rate is rounded once, half up, and that total is shared among the
// owners by weight, by largest remainder in the order of member numbers. Errors: *StateError.
func ChargeHauling(ticket string, barrels []Hauled, r HaulingRate, terms Terms) ([]*MemberEntry, error) {
	var net quantity.Mass
	weights := map[string]int64{}
	for _, b := range barrels {
		if b.HauledBySchedule {
			return nil, &StateError{Resource: "hauling", State: "IN_SCHEDULE", Message: "the prices of this delivery take hauling off already"}
		}
		net += b.Net
		if len(b.Owners) == 0 {
			weights[b.Member] += int64(b.Net) * WholeShare
		}
		for _, o := range b.Owners {
			weights[o.Member] += int64(b.Net) * o.Share
		}
	}
	total, err := times(r.Rate, net)
	if err != nil {
		return nil, fmt.Errorf("hauling of %s: %w", ticket, err)
	}
	members := slices.Sorted(maps.Keys(weights))
	by := make([]int64, len(members))
	for i, m := range members {
		by[i] = weights[m]
	}
	shares, err := quantity.Portions(total, by)
	if err != nil {
		return nil, fmt.Errorf("share the hauling of %s: %w", ticket, err)
	}
	var out []*MemberEntry
	for i, s := range shares {
		if s.Amount == 0 {
			continue
		}
		out = append(out, &MemberEntry{
			Member: members[i], Kind: HaulingCharge, Amount: -s.Amount, Ticket: ticket, Authority: r.Resolution,
			Description: fmt.Sprintf("Hauling of delivery %s from zone %s", ticket, r.Zone), Calculation: haulingInWords(net, total, s, len(members) > 1, r, terms),
		})
	}
	return out, nil
}

func haulingInWords(net quantity.Mass, total quantity.Money, s quantity.Portion[quantity.Money], shared bool, r HaulingRate, terms Terms) string {
	text := fmt.Sprintf("%s × %s = %s", terms.mass(net), terms.price(r.Rate), terms.money(total))
	if shared {
		text += fmt.Sprintf("; your part by weight is %s", terms.money(s.Amount))
		if s.Odd {
			text += ", with 1 ¢ placed by the rounding rule"
		}
	}
	return text
}
