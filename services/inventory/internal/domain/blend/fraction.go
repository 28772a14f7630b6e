package blend

import (
	"math/big"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// fraction is a barrel used in part.
type fraction struct {
	column int
	weight quantity.Mass
}

// dearestStep is what one step of any barrel is worth at most, rounded up. A part that is a multiple of the step can be
// that much dearer than the relaxation's, however good the plan is, so a plan within it counts as proved.
func (p *problem) dearestStep() int64 {
	var most int64
	for j, b := range p.barrels {
		if b.Weight > 0 {
			most = max(most, ceilDiv(abs(p.cost[j])*int64(Step), int64(b.Weight))+1)
		}
	}
	return most
}

// acceptParted takes a relaxation in which at most the one column that may be used in part is broken.
func (d *dive) acceptParted(l *relaxation) bool {
	if !d.p.order.PartBarrel {
		return false
	}
	column := l.parted
	if column < 0 {
		i, _ := fractional(l)
		if i < 0 || d.broken(l) > 1 {
			return false
		}
		column = i
	} else if i, _ := fractional(l); i >= 0 {
		return false
	}
	j := d.cols[column]
	whole := slices.DeleteFunc(d.chosen(l), func(c int) bool { return c == j })
	return d.acceptPart(whole, j)
}

// broken counts the columns that are not whole.
func (d *dive) broken(l *relaxation) int {
	n := 0
	for k, v := range l.head {
		if v < l.n && l.fixed[v] == open && l.values[k] > integral && l.values[k] < 1-integral {
			n++
		}
	}
	return n
}

// acceptPart takes whole columns and the best part of column j, if some part keeps every limit, and it is cheaper than
// the best plan.
func (s *search) acceptPart(whole []int, j int) bool {
	least, most, ok := s.p.partWindow(whole, j)
	if !ok {
		return false
	}
	weight := least
	if s.p.cost[j] < 0 {
		weight = most
	}
	cost := s.p.total(whole) + s.p.partCost(j, weight)
	if cost < s.cost {
		s.keep(cost, whole, &fraction{j, weight})
	}
	return true
}

// partCost is the cost of a part in proportion, rounded up, so that a bound on the exact proportion is one on it.
func (p *problem) partCost(j int, weight quantity.Mass) int64 {
	v := new(big.Int).Mul(big.NewInt(p.cost[j]), big.NewInt(int64(weight)))
	return ceilBig(v, big.NewInt(int64(p.barrels[j].Weight))).Int64()
}

// partWindow is the least and the most of barrel j, in whole steps and neither nothing nor all of it, that keeps every
// limit together with whole columns. A row in proportion to weight, low ≤ S + a·t/w ≤ high, is multiplied by w, beyond
// what 64 bits hold.
func (p *problem) partWindow(whole []int, j int) (least, most quantity.Mass, ok bool) {
	if p.members != 0 && int64(len(p.membersOf(append(slices.Clone(whole), j)))) > p.members {
		return 0, 0, false
	}
	low, high := big.NewInt(int64(Step)), big.NewInt(int64(p.barrels[j].Weight-Step))
	for r, row := range p.rows {
		if slices.Contains(p.counts, r) {
			continue
		}
		var sum int64
		for _, c := range whole {
			sum += row.coef[c]
		}
		if row.counted {
			if sum+row.coef[j] > row.high {
				return 0, 0, false
			}
			continue
		}
		if !narrow(low, high, row, sum, row.coef[j], int64(p.barrels[j].Weight)) {
			return 0, 0, false
		}
	}
	step := big.NewInt(int64(Step))
	low = ceilBig(low, step)
	high.Div(high, step)
	if low.Cmp(high) > 0 {
		return 0, 0, false
	}
	return quantity.Mass(low.Int64()) * Step, quantity.Mass(high.Int64()) * Step, true
}

// narrow cuts the window [low, high] of t down to where row.low ≤ sum + a·t/w ≤ row.high.
func narrow(low, high *big.Int, row row, sum, a, w int64) bool {
	scaled := func(bound int64) *big.Int { return new(big.Int).Mul(big.NewInt(bound-sum), big.NewInt(w)) }
	for _, side := range []struct {
		bound   int64
		atMost  bool
		present bool
	}{{row.high, true, row.high != free}, {row.low, false, row.low != -free}} {
		if !side.present {
			continue
		}
		limit := scaled(side.bound)
		atMost := side.atMost
		switch {
		case a == 0:
			if (atMost && limit.Sign() < 0) || (!atMost && limit.Sign() > 0) {
				return false
			}
			continue
		case a < 0:
			limit.Neg(limit)
			atMost = !atMost
		}
		by := big.NewInt(abs(a))
		if atMost {
			// Div rounds towards minus infinity for a positive divisor.
			if limit.Div(limit, by); limit.Cmp(high) < 0 {
				high.Set(limit)
			}
		} else if limit = ceilBig(limit, by); limit.Cmp(low) > 0 {
			low.Set(limit)
		}
	}
	return true
}

// ceilBig is a/b rounded up, b above zero.
func ceilBig(a, b *big.Int) *big.Int {
	q := new(big.Int).Neg(a)
	q.Div(q, b)
	return q.Neg(q)
}
