package lots

import (
	"fmt"

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

// BreachError means that a blend may not carry a label.
type BreachError struct {
	Charge Place
	Label  string
	Breach Breach
}

// Error says which rule, with both numbers.
func (e *BreachError) Error() string {
	return fmt.Sprintf("%s may not be packed as %s: %s is %s and must be %s; blend it further or choose another label",
		e.Charge, e.Label, e.Breach.Limit, e.Breach.Value, e.Breach.Allowed)
}

// Reason is the wire reason.
func (e *BreachError) Reason() string { return "STATE_FORBIDS" }

// Metadata repeats the rule and the numbers.
func (e *BreachError) Metadata() map[string]string {
	return map[string]string{
		"resource": string(e.Charge), "state": "BREACH", "limit": string(e.Breach.Limit), "value": e.Breach.Value, "allowed": e.Breach.Allowed,
	}
}
