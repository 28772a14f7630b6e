package lots

import (
	"fmt"
	"slices"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/kit/quantity"
)

// Rules are what a blend must be for a label; nil limits do not apply.
type Rules struct {
	Variety     string
	MinShare    quantity.Percent
	MaxMoisture *quantity.Percent
	MinPfund    *blend.Pfund
	MaxPfund    *blend.Pfund
}

// Ingredient is the honey of one barrel in a blend. Moisture and Pfund are nil while the barrel is not graded.
type Ingredient struct {
	Mass     quantity.Mass
	Variety  string
	Member   string
	Moisture *quantity.Percent
	Pfund    *blend.Pfund
}

// Figures is what a blend is by its ingredients, rounded half up for reading.
type Figures struct {
	Weight   quantity.Mass
	Moisture *quantity.Percent
	Pfund    *blend.Pfund
	Share    quantity.Percent
	Members  int
	Barrels  int
	Breaches []Breach
}

// Breach is a rule that is not kept.
type Breach struct {
	Limit          blend.Limit
	Value, Allowed string
}

// sums are exact: mass times value, in thousandths times hundredths of a percent, or of a ten-thousandth of density.
type sums struct {
	weight, water, color, share int64
	graded                      bool
}

// Judge predicts a blend and compares it with the rules, exactly. A rule that needs a grade is broken while an ingredient
// has none: it cannot be shown to be kept.
func (r Rules) Judge(ingredients []Ingredient) Figures {
	s := sums{graded: true}
	members := map[string]bool{}
	for _, i := range ingredients {
		m := int64(i.Mass)
		s.weight += m
		members[i.Member] = true
		if i.Variety == r.Variety {
			s.share += m
		}
		if i.Moisture == nil || i.Pfund == nil {
			s.graded = false
			continue
		}
		s.water += int64(*i.Moisture) * m
		s.color += int64(blend.DensityOf(*i.Pfund)) * m
	}
	f := Figures{Weight: quantity.Mass(s.weight), Members: len(members), Barrels: len(ingredients)}
	if s.weight == 0 {
		return f
	}
	if s.graded {
		water, color := quantity.Percent(half(s.water, s.weight)), blend.PfundOf(blend.Density(half(s.color, s.weight)))
		f.Moisture, f.Pfund = &water, &color
	}
	f.Share = quantity.Percent(half(s.share*100_00, s.weight))
	f.Breaches = r.breaches(s, f)
	return f
}

func half(sum, weight int64) int64 { return (2*sum + weight) / (2 * weight) }

func (r Rules) breaches(s sums, f Figures) []Breach {
	var out []Breach
	unless := func(kept bool, l blend.Limit, value, allowed string) {
		if !kept {
			out = append(out, Breach{l, value, allowed})
		}
	}
	if r.Variety != "" && r.MinShare > 0 {
		unless(s.share*100_00 >= int64(r.MinShare)*s.weight, blend.MinShare, f.Share.String(), r.MinShare.String())
	}
	water, color := "not graded", "not graded"
	if s.graded {
		water, color = f.Moisture.String(), f.Pfund.String()
	}
	if r.MaxMoisture != nil {
		unless(s.graded && s.water <= int64(*r.MaxMoisture)*s.weight, blend.MaxMoisture, water, r.MaxMoisture.String())
	}
	if r.MinPfund != nil {
		unless(s.graded && s.color >= int64(blend.DensityOf(*r.MinPfund))*s.weight, blend.MinColor, color, r.MinPfund.String())
	}
	if r.MaxPfund != nil {
		unless(s.graded && s.color <= int64(blend.DensityOf(*r.MaxPfund))*s.weight, blend.MaxColor, color, r.MaxPfund.String())
	}
	return out
}

// Words says what is and what should be.
func (b Breach) Words() string {
	switch b.Limit {
	case blend.MinShare:
		return fmt.Sprintf("the share of the source is %s %% and must be at least %s %%", b.Value, b.Allowed)
	case blend.MaxMoisture:
		return fmt.Sprintf("water is %s %% and may be at most %s %%", b.Value, b.Allowed)
	case blend.MinColor:
		return fmt.Sprintf("colour is %s mm Pfund and must be at least %s", b.Value, b.Allowed)
	case blend.MaxColor:
		return fmt.Sprintf("colour is %s mm Pfund and may be at most %s", b.Value, b.Allowed)
	default:
		return fmt.Sprintf("%s is %s and must be %s", b.Limit, b.Value, b.Allowed)
	}
}

// StillKept fails if a substitute breaks a rule that was kept before.
func StillKept(tag string, before, after Figures) error {
	for _, b := range after.Breaches {
		if !slices.ContainsFunc(before.Breaches, func(old Breach) bool { return old.Limit == b.Limit }) {
			return &SubstituteError{Tag: tag, Breach: b}
		}
	}
	return nil
}

// SubstituteError means that a barrel used in place of a planned one breaks a rule of the charge.
type SubstituteError struct {
	Tag    string
	Breach Breach
}

// Error says what it comes to when all is in.
func (e *SubstituteError) Error() string {
	return fmt.Sprintf("with drum %s, and all that is still planned, %s: take another barrel, or confirm it", e.Tag, e.Breach.Words())
}

// Reason is the wire reason.
func (e *SubstituteError) Reason() string { return "REASON_REQUIRED" }

// Metadata names the field that is asked for, the rule and the numbers.
func (e *SubstituteError) Metadata() map[string]string {
	return map[string]string{"field": e.Field(), "drum": e.Tag, "limit": string(e.Breach.Limit), "value": e.Breach.Value, "allowed": e.Breach.Allowed}
}

// Field is the field that is asked for.
func (e *SubstituteError) Field() string { return "confirm_breach" }

// BreachError means that a blend may not carry a label.
type BreachError struct {
	Charge        Place
	Called, Label string
	Breach        Breach
}

// Error says which rule, with both numbers.
func (e *BreachError) Error() string {
	return fmt.Sprintf("%s may not be packed as %s: %s; blend it further or choose another label", orName(e.Called, e.Charge), e.Label, e.Breach.Words())
}

// Reason is the wire reason.
func (e *BreachError) Reason() string { return "STATE_FORBIDS" }

// Metadata repeats the rule and the numbers.
func (e *BreachError) Metadata() map[string]string {
	return map[string]string{
		"resource": string(e.Charge), "state": "BREACH", "limit": string(e.Breach.Limit), "value": e.Breach.Value, "allowed": e.Breach.Allowed,
	}
}
