package blend

import (
	"slices"
	"strings"

	"barrelhead.example/services/kit/quantity"
)

// Limit names a limit of an order in findings.
type Limit string

// The limits. Those of groups are made by MinGroup and MaxGroup.
const (
	MinWeight   Limit = "MIN_WEIGHT"
	MaxWeight   Limit = "MAX_WEIGHT"
	MinMoisture Limit = "MIN_MOISTURE"
	MaxMoisture Limit = "MAX_MOISTURE"
	MinColor    Limit = "MIN_COLOR"
	MaxColor    Limit = "MAX_COLOR"
	MinShare    Limit = "MIN_SHARE"
	MaxAged     Limit = "MAX_AGED"
	MaxMembers  Limit = "MAX_MEMBERS"
	MaxHMF      Limit = "MAX_HMF"

	// knownHMF goes with MaxHMF: what was not measured cannot be shown to keep it.
	knownHMF Limit = "KNOWN_HMF"

	minGroup = "MIN_GROUP"
	maxGroup = "MAX_GROUP"
)

// MinGroup is the least share of a group.
func MinGroup(name string) Limit { return Limit(minGroup + " " + name) }

// MaxGroup is the greatest share of a group.
func MaxGroup(name string) Limit { return Limit(maxGroup + " " + name) }

// Split is the kind of a limit and, for one of a group, its name.
func (l Limit) Split() (kind Limit, group string) {
	k, group, _ := strings.Cut(string(l), " ")
	return Limit(k), group
}

// atMost reports whether a greater value breaks it.
func (l Limit) atMost() bool { return strings.HasPrefix(string(l), "MAX_") }

// limits are those that apply, in the order in which they are tried without: what a buyer gives way on first comes first,
// so that the conflict named is about what matters most.
func (o *Order) limits() []Limit {
	all := []Limit{MaxMembers, MaxAged, MaxHMF}
	for _, g := range o.Groups {
		all = append(all, MaxGroup(g.Name), MinGroup(g.Name))
	}
	all = append(all, MinShare, MinColor, MaxColor, MinMoisture, MaxMoisture, MaxWeight, MinWeight)
	return slices.DeleteFunc(all, func(l Limit) bool { _, has := o.value(l); return !has })
}

// value is the number of a limit as a reader knows it, and whether the limit applies: thousandths of the unit of mass,
// hundredths of a percent, hundredths of a millimetre, tenths of mg/kg, barrels or members.
func (o *Order) value(l Limit) (int64, bool) {
	switch l {
	case MinWeight:
		return int64(o.MinWeight), o.MinWeight > 0
	case MaxWeight:
		return int64(o.MaxWeight), o.MaxWeight != unlimited
	case MinMoisture:
		return pointed(o.MinMoisture)
	case MaxMoisture:
		return pointed(o.MaxMoisture)
	case MinColor:
		return pointedColor(o.MinDensity)
	case MaxColor:
		return pointedColor(o.MaxDensity)
	case MinShare:
		return int64(o.MinShare), o.MinShare > 0
	case MaxAged:
		return pointed(o.MaxAged)
	case MaxMembers:
		return o.MaxMembers, o.MaxMembers > 0
	case MaxHMF:
		return pointed(o.MaxHMF)
	default:
		return o.groupValue(l)
	}
}

func (o *Order) groupValue(l Limit) (int64, bool) {
	for _, g := range o.Groups {
		if l == MinGroup(g.Name) {
			return pointed(g.Min)
		}
		if l == MaxGroup(g.Name) {
			return pointed(g.Max)
		}
	}
	return 0, false
}

func pointed[T ~int64](v *T) (int64, bool) {
	if v == nil {
		return 0, false
	}
	return int64(*v), true
}

func pointedColor(d *Density) (int64, bool) {
	if d == nil {
		return 0, false
	}
	return int64(reads(*d)), true
}

// reads is the colour whose density is d, or the next above it: what to write down so that it is read back as d or darker.
func reads(d Density) Pfund {
	mm := PfundOf(d)
	for DensityOf(mm) < d {
		mm++
	}
	return mm
}

// lightest is the darkest colour read as d or lighter.
func lightest(d Density) Pfund {
	mm := PfundOf(d)
	for DensityOf(mm+1) <= d {
		mm++
	}
	return mm
}

// without is the order without a limit.
func (o *Order) without(l Limit) Order {
	out := *o
	switch l {
	case MinWeight:
		out.MinWeight = 0
	case MaxWeight:
		out.MaxWeight = unlimited
	case MinMoisture:
		out.MinMoisture = nil
	case MaxMoisture:
		out.MaxMoisture = nil
	case MinColor:
		out.MinDensity = nil
	case MaxColor:
		out.MaxDensity = nil
	case MinShare:
		out.MinShare = 0
	case MaxAged:
		out.MaxAged = nil
	case MaxMembers:
		out.MaxMembers = 0
	case MaxHMF:
		out.MaxHMF = nil
	default:
		out.setGroup(l, nil)
	}
	return out
}

// with is the order with another value for a limit, in the terms of value.
func (o *Order) with(l Limit, v int64) Order {
	out := *o
	percent, hmf := quantity.Percent(v), HMF(v)
	switch l {
	case MinWeight:
		out.MinWeight = quantity.Mass(v)
	case MaxWeight:
		out.MaxWeight = quantity.Mass(v)
	case MinMoisture:
		out.MinMoisture = &percent
	case MaxMoisture:
		out.MaxMoisture = &percent
	case MinColor:
		d := DensityOf(Pfund(v))
		out.MinDensity = &d
	case MaxColor:
		d := DensityOf(Pfund(v))
		out.MaxDensity = &d
	case MinShare:
		out.MinShare = percent
	case MaxAged:
		out.MaxAged = &v
	case MaxMembers:
		out.MaxMembers = v
	case MaxHMF:
		out.MaxHMF = &hmf
	default:
		out.setGroup(l, &percent)
	}
	return out
}

func (o *Order) setGroup(l Limit, v *quantity.Percent) {
	o.Groups = slices.Clone(o.Groups)
	for i, g := range o.Groups {
		if l == MinGroup(g.Name) {
			o.Groups[i].Min = v
		}
		if l == MaxGroup(g.Name) {
			o.Groups[i].Max = v
		}
	}
}
