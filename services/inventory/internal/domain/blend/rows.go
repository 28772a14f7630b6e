package blend

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"barrelhead.example/services/kit/quantity"
)

// free is the bound of a row that has none on that side.
const free = math.MaxInt64

// row is low ≤ Σ coef·x ≤ high over the columns of a problem.
type row struct {
	coef      []int64
	low, high int64
	// limits names what low and high stand for; empty when the row only helps the search.
	lowLimit, highLimit Limit
	// counted rows count barrels; all others are in proportion to weight.
	counted bool
	// cut rows say nothing that the cap on members does not say.
	cut bool
}

// problem is one order over the barrels offered, in whole numbers: choose x ∈ {0,1} within every row, with barrels of
// at most members members, at the least Σ cost·x.
type problem struct {
	order   *Order
	barrels []*Barrel // by id
	cost    []int64
	rows    []row
	// group numbers the members from 0; members is the cap, 0 for none.
	group   []int
	groups  int
	members int64
	// counts are the indexes of the rows that count barrels for the search to branch on: of a floral source and of groups, and
	// last of all.
	counts []int
	// stepCost is what a step of a part barrel is worth at most; 0 where barrels are used whole.
	stepCost int64
}

// ErrTooLarge means that weights, values or barrels are beyond what whole numbers of 64 bits hold.
var ErrTooLarge = errors.New("the barrels are too many or too heavy to be planned exactly")

// maxTotal keeps every sum within what a float64 holds exactly, so that the search sees the same numbers as the check.
const maxTotal = 1 << 52

func newProblem(o *Order, offered []Barrel) (*problem, error) {
	p := &problem{order: o, members: o.MaxMembers}
	for i := range offered {
		p.barrels = append(p.barrels, &offered[i])
	}
	slices.SortFunc(p.barrels, func(a, b *Barrel) int { return cmp.Compare(a.ID, b.ID) })
	numbers := map[string]int{}
	for _, b := range p.barrels {
		cost, err := o.cost(b)
		if err != nil {
			return nil, fmt.Errorf("cost of barrel %s: %w", b.ID, err)
		}
		p.cost = append(p.cost, cost)
		if _, known := numbers[b.Member]; !known {
			numbers[b.Member] = len(numbers)
		}
		p.group = append(p.group, numbers[b.Member])
	}
	p.groups = len(numbers)
	if p.members >= int64(p.groups) {
		p.members = 0
	}
	if o.PartBarrel {
		p.stepCost = p.dearestStep()
	}
	return p, p.addRows()
}

func (p *problem) addRows() error {
	o := p.order
	p.add(MinWeight, MaxWeight, int64(o.MinWeight), int64(o.MaxWeight), func(b *Barrel) int64 { return int64(b.Weight) })
	average(p, MinMoisture, o.MinMoisture, MaxMoisture, o.MaxMoisture, func(b *Barrel) int64 { return int64(b.Moisture) })
	average(p, MinColor, o.MinDensity, MaxColor, o.MaxDensity, func(b *Barrel) int64 { return int64(b.Density) })
	if o.MinShare > 0 {
		p.add(MinShare, "", 0, free, func(b *Barrel) int64 { return (p.share(b) - int64(o.MinShare)) * int64(b.Weight) })
		p.addCount(func(b *Barrel) bool { return p.share(b) > 0 })
	}
	if o.MaxAged != nil {
		p.add("", MaxAged, -free, *o.MaxAged, func(b *Barrel) int64 { return boolean(o.aged(b)) })
		p.rows[len(p.rows)-1].counted = true
	}
	p.addHMF()
	for _, g := range o.Groups {
		p.addGroup(g)
	}
	if o.Must != "" {
		p.add("", "", 1, free, func(b *Barrel) int64 { return boolean(b.ID == o.Must) })
	}
	p.addMembers()
	p.addCount(func(*Barrel) bool { return true })
	return p.checkSize()
}

// addCount adds a row that counts some of the barrels. All barrels weigh about the same, so where a share of the weight is
// asked for the relaxation takes 6.3 barrels of it: branching on single barrels does not move that, branching on their number
// does.
func (p *problem) addCount(of func(*Barrel) bool) {
	p.counts = append(p.counts, len(p.rows))
	p.add("", "", 0, int64(len(p.barrels)), func(b *Barrel) int64 { return boolean(of(b)) })
	p.rows[len(p.rows)-1].counted = true
}

func (p *problem) addHMF() {
	most := p.order.MaxHMF
	if most == nil {
		return
	}
	p.add("", MaxHMF, -free, 0, func(b *Barrel) int64 { return (p.order.hmf(b) - int64(*most)) * int64(b.Weight) })
	p.add("", knownHMF, -free, 0, func(b *Barrel) int64 { return boolean(b.HMF == nil) })
	p.rows[len(p.rows)-1].counted = true
}

func (p *problem) addGroup(g Group) {
	in := func(b *Barrel) int64 { return boolean(g.Barrels[b.ID]) * 100_00 }
	if g.Min != nil {
		p.add(MinGroup(g.Name), "", 0, free, func(b *Barrel) int64 { return (in(b) - int64(*g.Min)) * int64(b.Weight) })
	}
	if g.Max != nil {
		p.add("", MaxGroup(g.Name), -free, 0, func(b *Barrel) int64 { return (in(b) - int64(*g.Max)) * int64(b.Weight) })
	}
	p.addCount(func(b *Barrel) bool { return g.Barrels[b.ID] })
}

// share is the part of the barrel that counts for the label, in hundredths of a percent.
func (p *problem) share(b *Barrel) int64 { return boolean(b.Variety == p.order.Variety) * 100_00 }

func boolean(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

// average adds the rows of a window on a mass-weighted mean.
func average[T ~int64](p *problem, low Limit, least *T, high Limit, most *T, of func(*Barrel) int64) {
	if least != nil {
		p.add(low, "", 0, free, func(b *Barrel) int64 { return (of(b) - int64(*least)) * int64(b.Weight) })
	}
	if most != nil {
		p.add("", high, -free, 0, func(b *Barrel) int64 { return (of(b) - int64(*most)) * int64(b.Weight) })
	}
}

func (p *problem) add(lowLimit, highLimit Limit, low, high int64, of func(*Barrel) int64) {
	r := row{coef: make([]int64, len(p.barrels)), low: low, high: high, lowLimit: lowLimit, highLimit: highLimit}
	for i, b := range p.barrels {
		r.coef[i] = of(b)
	}
	p.rows = append(p.rows, r.reduced(p.order.PartBarrel))
}

// reduced divides a row by the greatest number that divides all of it, rounding its bounds inwards: nothing whole is
// lost, and the smaller numbers make the search's arithmetic finer. Where a barrel may be used in part sums are not whole
// multiples, so there the bounds must be divided without rest.
func (r row) reduced(parts bool) row {
	var g int64
	for _, bound := range [2]int64{r.low, r.high} {
		if parts && bound != free && bound != -free {
			g = gcd(g, abs(bound))
		}
	}
	for _, c := range r.coef {
		g = gcd(g, abs(c))
	}
	if g <= 1 {
		return r
	}
	for i := range r.coef {
		r.coef[i] /= g
	}
	if r.low != -free && r.low != free {
		r.low = ceilDiv(r.low, g)
	}
	if r.high != free {
		r.high = -ceilDiv(-r.high, g)
	}
	return r
}

// memberScale is fine enough for 1/barrels of any member.
const memberScale = 1 << 20

// addMembers adds what the cap on members says of the barrels: a member with n barrels, each taken, is one member, so a
// barrel is at least 1/n of one. No limit is named, because the row is weaker than the cap; the cap itself is kept by
// the search.
func (p *problem) addMembers() {
	if p.members == 0 {
		return
	}
	barrels := make([]int64, p.groups)
	for _, g := range p.group {
		barrels[g]++
	}
	r := row{coef: make([]int64, len(p.barrels)), low: -free, high: p.members * memberScale, counted: true}
	for i, g := range p.group {
		r.coef[i] = memberScale / barrels[g]
	}
	p.rows = append(p.rows, r)
}

// mostWeight keeps sums of weight times value, twice over, within 64 bits: four thousand million units of mass.
const mostWeight quantity.Mass = 1 << 42

func (p *problem) checkSize() error {
	var all quantity.Mass
	for _, b := range p.barrels {
		if all += b.Weight; b.Weight > mostWeight || all > mostWeight {
			return ErrTooLarge
		}
	}
	for _, r := range p.rows {
		var total int64
		for _, c := range r.coef {
			if total += abs(c); abs(c) > maxTotal || total > maxTotal {
				return ErrTooLarge
			}
		}
	}
	var total int64
	for _, c := range p.cost {
		if total += abs(c); abs(c) > maxTotal || total > maxTotal {
			return ErrTooLarge
		}
	}
	return nil
}

func abs(v int64) int64 {
	if v < 0 {
		return -v
	}
	return v
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// ceilDiv is a/b rounded up, b above zero.
func ceilDiv(a, b int64) int64 {
	q := a / b
	if a%b > 0 {
		q++
	}
	return q
}

// crossed reports that a row has no whole number between its bounds: barrels of one weight, say, and a window between two
// counts of them.
func (p *problem) crossed() bool {
	return slices.ContainsFunc(p.rows, func(r row) bool { return r.low > r.high })
}

// fits reports whether the chosen columns keep every row and the cap on members. This and nothing else accepts a plan.
func (p *problem) fits(chosen []int) bool {
	for _, r := range p.rows {
		var sum int64
		for _, j := range chosen {
			sum += r.coef[j]
		}
		if sum < r.low || sum > r.high {
			return false
		}
	}
	return p.members == 0 || int64(len(p.membersOf(chosen))) <= p.members
}

func (p *problem) membersOf(chosen []int) map[int]bool {
	seen := map[int]bool{}
	for _, j := range chosen {
		seen[p.group[j]] = true
	}
	return seen
}

func (p *problem) total(chosen []int) int64 {
	var sum int64
	for _, j := range chosen {
		sum += p.cost[j]
	}
	return sum
}
