package blend

import (
	"barrelhead.example/services/kit/quantity"
)

// Comparison is a limit before and after barrels were changed for others.
type Comparison struct {
	Limit Limit
	// Allowed is the limit, in the terms of Order.Value.
	Allowed int64
	// Before and After are what the blend comes to, as decimals in the limit's unit, rounded, if they must be, towards
	// breaking the limit: what reads as kept is kept.
	Before, After string
	// Kept says whether the blend keeps it afterwards, by exact integers; KeptBefore whether it did before.
	Kept, KeptBefore bool
	// Excess is by how much it is broken afterwards, rounded up; "" when kept.
	Excess string
}

// Compare says what each limit of the order comes to before and after, and whether all are kept afterwards.
func (o *Order) Compare(before, after []Used) (all []Comparison, kept bool) {
	old, now := o.tally(before), o.tally(after)
	kept = true
	limits := o.limits()
	for i := len(limits) - 1; i >= 0; i-- {
		l := limits[i]
		allowed, _ := o.value(l)
		c := Comparison{
			Limit: l, Allowed: allowed, Before: o.precise(l, old), After: o.precise(l, now),
			Kept: o.keeps(l, now), KeptBefore: o.keeps(l, old),
		}
		if !c.Kept {
			c.Excess = o.excess(l, now)
		}
		all, kept = append(all, c), kept && c.Kept
	}
	return all, kept
}

// exact is a limit as it is compared: colour in density.
func (o *Order) exact(l Limit) int64 {
	switch l {
	case MinColor:
		return int64(*o.MinDensity)
	case MaxColor:
		return int64(*o.MaxDensity)
	default:
		v, _ := o.value(l)
		return v
	}
}

// keeps reports whether a blend keeps a limit. HMF that is not known is not shown to keep any.
func (o *Order) keeps(l Limit, t tally) bool {
	if l == MaxHMF && t.unknown > 0 {
		return false
	}
	sum, by := o.measure(l, t)
	allowed := o.exact(l)
	if by != 0 {
		allowed *= by
	}
	if l.atMost() {
		return sum <= allowed
	}
	return sum >= allowed
}

// finer is how many times finer than a limit is written a mean is shown: three digits more.
const finer, finerDigits = 1000, 3

// precise is what a limit is compared with.
func (o *Order) precise(l Limit, t tally) string {
	if l == MaxHMF && t.unknown > 0 {
		return "not measured"
	}
	sum, by := o.measure(l, t)
	switch {
	case by == 0:
		return l.Number(sum)
	case l == MinColor || l == MaxColor:
		return l.Number(o.reached(l, t))
	case l.atMost():
		return l.fine(finely(sum, by, true))
	default:
		return l.fine(finely(sum, by, false))
	}
}

// finely is sum/by in units finer times smaller, rounded up or down, without leaving 64 bits.
func finely(sum, by int64, up bool) int64 {
	rest := sum % by * finer
	if up {
		return sum/by*finer + ceilDiv(rest, by)
	}
	return sum/by*finer + rest/by
}

// fine is Number with three digits more.
func (l Limit) fine(v int64) string {
	digits := 2
	if l == MaxHMF {
		digits = 1
	}
	return quantity.FormatFixed(v, digits+finerDigits, digits)
}

// excess is by how much a limit is broken, rounded up; colour in optical density, in which it mixes.
func (o *Order) excess(l Limit, t tally) string {
	if l == MaxHMF && t.unknown > 0 {
		return "unknown"
	}
	sum, by := o.measure(l, t)
	allowed := o.exact(l)
	switch {
	case by == 0:
		return l.Number(abs(sum - allowed))
	case l == MinColor || l == MaxColor:
		return quantity.FormatFixed(finely(abs(sum-allowed*by), by, true), 4+finerDigits, 4) + " of optical density"
	default:
		return l.fine(finely(abs(sum-allowed*by), by, true))
	}
}
