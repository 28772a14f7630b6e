// Package label is what stands on a jar and what must be true before it may stand there.
package label

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/quantity"
)

// Claim is something a label promises beyond being honey.
type Claim string

// The claims.
const (
	Floral Claim = "FLORAL_SOURCE"
	Raw    Claim = "RAW"
)

// Face is what is printed.
type Face struct {
	GTIN   string
	Ounces int64 // hundredths of an avoirdupois ounce; 0 for none
	Grams  int64 // tenths of a gram; 0 for none
	Origin string
	Claims []Claim
	// MaxCelsius is the warmest the honey may have been; nil for no limit.
	MaxCelsius    *heat.Celsius
	InfantCaution bool
	// Certified are claims every barrel under the label must stand approved for, as stock.ClaimName writes them.
	Certified []string
}

// Label is an artwork with its rules.
type Label struct {
	ID, Title string
	Rules     lots.Rules
	Face      Face
	// ShelfMonths is how many months honey under it keeps; 0 where it says nothing.
	ShelfMonths int
	Creator     string
	Time        time.Time
	Approval    *Approval
}

// Approval says that an artwork may be used.
type Approval struct {
	Approver, Evidence string
	Time               time.Time
}

// Name is the resource name, "labels/{id}".
func (l Label) Name() string { return "labels/" + l.ID }

// ouncePerGram: one avoirdupois ounce is 28.349523125 g exactly (NIST Special Publication 811, the pound of 0.45359237 kg
// divided by 16), here in billionths of a gram.
const gramsPerOunce = 28_349_523_125

// mostMonths is well beyond what the trade uses, 24 to 36 (common practice, no source). Honey does not go off by law.
const mostMonths = 60

// BestBy is the day a lot is best by that is started on a day, "2029-02-28"; empty where the label says nothing. A day the month does
// not have is its last one, so that no lot is ever said to keep longer than its label says.
func (l Label) BestBy(start time.Time) string {
	if l.ShelfMonths == 0 {
		return ""
	}
	first := time.Date(start.Year(), start.Month()+time.Month(l.ShelfMonths), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return first.AddDate(0, 0, min(start.Day(), last)-1).Format(time.DateOnly)
}

// Check finds what is wrong with the words and numbers, by field.
func (l Label) Check() map[string]error {
	faults := map[string]error{}
	if l.Face.GTIN != "" {
		if err := checkdigit.ValidGS1(l.Face.GTIN); err != nil {
			faults["face.gtin"] = err
		}
	}
	if l.ShelfMonths < 0 || l.ShelfMonths > mostMonths {
		faults["shelf_life_months"] = fmt.Errorf("is %d, must be 1 to %d, or left out", l.ShelfMonths, mostMonths)
	}
	if (l.Face.Ounces == 0) != (l.Face.Grams == 0) {
		faults["face.net_grams"] = errors.New("and net_ounces are printed together or not at all")
	} else if err := l.Face.agree(); err != nil {
		faults["face.net_grams"] = err
	}
	if slices.Contains(l.Face.Claims, Floral) && (l.Rules.Variety == "" || l.Rules.MinShare == 0) {
		faults["rules.variety"] = errors.New("and its least share are missing: a label that names a floral source needs them")
	}
	if slices.Contains(l.Face.Claims, Raw) && l.Face.MaxCelsius == nil {
		faults["face.max_celsius"] = errors.New("is missing: what is called raw needs the temperature it was never warmer than")
	}
	return faults
}

// agree compares both units: 0.2 percent is what rounding to three digits can make.
func (f Face) agree() error {
	exact, err := quantity.MulDiv(f.Ounces, gramsPerOunce, 10_000_000_000) // hundredths of an ounce in tenths of a gram
	if err != nil {
		return fmt.Errorf("net content: %w", err)
	}
	if difference := max(exact-f.Grams, f.Grams-exact); difference*500 > exact {
		return fmt.Errorf("%s g does not agree with %s oz, which are %s g",
			quantity.FormatFixed(f.Grams, 1, 1), quantity.FormatFixed(f.Ounces, 2, 0), quantity.FormatFixed(exact, 1, 1))
	}
	return nil
}

// Approve records that somebody else than who entered it looked at the artwork. What must be printed is not a matter of opinion.
func (l Label) Approve(approver, evidence string, now time.Time) (Label, error) {
	forbid := func(state, action string) error {
		return &stock.StateError{Resource: l.Name(), State: state, Action: "approved" + action}
	}
	switch {
	case l.Approval != nil:
		return l, forbid("APPROVED", " again")
	case approver == l.Creator:
		return l, &CreatorError{Creator: l.Creator}
	case !l.Face.InfantCaution:
		return l, forbid("WITHOUT_INFANT_CAUTION", ": it must say not to feed honey to infants under 12 months of age")
	case l.Face.Ounces == 0:
		return l, forbid("WITHOUT_NET_CONTENT", ": it must give the net content in ounces and grams")
	case l.Face.Origin == "":
		return l, forbid("WITHOUT_ORIGIN", ": it must name the country of origin")
	}
	l.Approval = &Approval{Approver: approver, Evidence: evidence, Time: now}
	return l, nil
}

// Carries fails while a charge may not be packed under the label for what the label itself is, or for the heat it has had.
func (l Label) Carries(h heat.Account) error {
	forbid := func(state, action string) error {
		return &stock.StateError{Resource: l.Name(), State: state, Action: "used: " + action}
	}
	switch {
	case l.Approval == nil:
		return forbid("NOT_APPROVED", "another person than "+l.Creator+" must approve it first")
	case l.Face.MaxCelsius == nil:
		return nil
	case h.Unknown:
		return forbid("HEAT_UNKNOWN", "it promises at most "+l.Face.MaxCelsius.String()+" °C, and how warm this honey was is not known")
	case h.Warmest != nil && *h.Warmest > *l.Face.MaxCelsius:
		return forbid("TOO_WARM", fmt.Sprintf("it promises at most %s °C, and this honey was at %s °C", l.Face.MaxCelsius, h.Warmest))
	}
	return nil
}

// CreatorError means that who entered a label tried to approve it.
type CreatorError struct{ Creator string }

// Error names who entered it.
func (e *CreatorError) Error() string {
	return e.Creator + " entered this label: another person must approve it"
}

// Reason is the wire reason.
func (e *CreatorError) Reason() string { return "SAME_PERSON" }

// Metadata names who entered it.
func (e *CreatorError) Metadata() map[string]string { return map[string]string{"first": e.Creator} }
