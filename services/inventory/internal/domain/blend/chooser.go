package blend

import (
	"cmp"
	"slices"
)

// chooser decides which order takes which of its choices, no barrel twice. It divides by whether an order takes a barrel, and
// bounds what is left by prices on the barrels, as the relaxations do, but of whole choices.
type chooser struct {
	of  [][]choice
	gap int64
	// any plan will do: choices cost nothing and leaving an order out costs leave.
	any       bool
	prices    []int64
	direction []float64
	best      []int // of the choices of each order; nil for none
	some      []int // likewise, of as many orders as were filled together; −1 for the others
	cost      int64 // of best, or none
	least     int64 // of the bounds of everything given up
	left      int64 // choices that may still be looked at
}

const (
	// firstRounds and laterRounds of prices are made at the start and in each part.
	firstRounds, laterRounds = 400, 30
	// leave is the cost of an order left out.
	leave = 1 << 20
	// glances are how many choices looked at count as one relaxation.
	glances = 400
)

func (m *many) chooser(of [][]choice, nodes int64) *chooser {
	return &chooser{
		of: of, gap: m.opts.Gap, prices: slices.Clone(m.tight), direction: make([]float64, len(m.tight)),
		cost: m.cost, least: none, left: nodes * glances,
	}
}

// all are the choices of every order, by their number.
func (c *chooser) all() [][]int {
	out := make([][]int, len(c.of))
	for o, list := range c.of {
		for i := range list {
			out[o] = append(out[o], i)
		}
	}
	return out
}

func (c *chooser) run() { c.node(c.all(), -none, firstRounds) }

// limit is what a plan must cost less than to be of use.
func (c *chooser) limit() int64 {
	switch {
	case c.any:
		return 1
	case c.cost == none:
		return none
	default:
		return c.cost - tolerance(c.cost, c.gap)
	}
}

func (c *chooser) over() bool { return c.left <= 0 || (c.any && c.best != nil) }

// tidy is how often the choices of a part are looked through again after some were dropped.
const tidy = 4

// node decides a part, in which each order has some of its choices left. above is a bound known for it.
func (c *chooser) node(open [][]int, above int64, rounds int) {
	for dropped, again := true, 0; dropped && again < tidy; again++ {
		if !c.spread(open) {
			return
		}
		var bound int64
		bound, dropped = c.raise(open, rounds)
		if above = max(above, bound); above >= c.limit() || c.over() {
			c.least = min(c.least, above)
			return
		}
		rounds = laterRounds
	}
	if !c.spread(open) {
		return
	}
	o, barrel := c.divide(open)
	if o < 0 {
		c.take(firsts(open))
		return
	}
	with, without := slices.Clone(open), slices.Clone(open)
	for other, list := range open {
		takes := func(i int) bool { return slices.Contains(c.of[other][i].barrels, barrel) }
		without[other] = slices.Clone(list)
		with[other] = slices.DeleteFunc(slices.Clone(list), func(i int) bool { return takes(i) != (other == o) })
		if other == o {
			without[o] = slices.DeleteFunc(without[o], takes)
		}
	}
	prices := slices.Clone(c.prices)
	c.node(with, above, laterRounds)
	copy(c.prices, prices)
	c.node(without, above, laterRounds)
}

func firsts(open [][]int) []int {
	out := make([]int, len(open))
	for o, list := range open {
		out[o] = list[0]
	}
	return out
}

// spread gives the barrels that all choices of an order take to that order alone; false when an order has no choice left.
func (c *chooser) spread(open [][]int) bool {
	owner := make([]int, len(c.prices))
	for b := range owner {
		owner[b] = anyone
	}
	for {
		more := false
		for o, list := range open {
			if len(list) == 0 {
				return false
			}
			for _, b := range c.of[o][list[0]].barrels {
				if owner[b] == o || !c.always(o, list, b) {
					continue
				}
				if owner[b] != anyone {
					return false
				}
				owner[b], more = o, true
			}
		}
		if !more {
			return true
		}
		for o, list := range open {
			c.left -= int64(len(list))
			open[o] = slices.DeleteFunc(list, func(i int) bool {
				return slices.ContainsFunc(c.of[o][i].barrels, func(b int) bool { return owner[b] != anyone && owner[b] != o })
			})
		}
	}
}

// anyone owns a barrel that no order has for itself.
const anyone = -1

func (c *chooser) always(o int, list []int, barrel int) bool {
	return !slices.ContainsFunc(list, func(i int) bool { return !slices.Contains(c.of[o][i].barrels, barrel) })
}

// raise moves the prices for some rounds to the best bound of a part, and drops the choices that no plan of use takes.
func (c *chooser) raise(open [][]int, rounds int) (bound int64, dropped bool) {
	bound = -none
	tight := slices.Clone(c.prices)
	clear(c.direction)
	step, stale := 1.0, 0
	for round := range rounds {
		chosen, total := c.cheapest(open)
		if stale++; total > bound {
			bound, stale = total, 0
			copy(tight, c.prices)
		}
		usage := c.usage(chosen)
		if slices.Max(usage) <= 1 && !slices.Contains(chosen, -1) {
			c.take(chosen)
		}
		if bound >= c.limit() || c.over() {
			break
		}
		if round%greedyEvery == greedyEvery-1 {
			c.greedy(open)
		}
		if stale >= patience {
			step, stale = step/2, 0
		}
		if !c.reprice(usage, total, step) {
			break
		}
	}
	copy(c.prices, tight)
	return bound, c.drop(open, bound)
}

// greedyEvery is after how many rounds a plan is built at the prices.
const greedyEvery = 10

// at is what a choice costs at the prices.
func (c *chooser) at(o, i int) int64 {
	var at int64
	if !c.any {
		at = c.of[o][i].cost
	}
	for _, b := range c.of[o][i].barrels {
		at += c.prices[b]
	}
	return at
}

// lowest is the cheapest of some choices at the prices; −1 where leaving the order out is cheaper.
func (c *chooser) lowest(o int, list []int) (choice int, least int64) {
	choice, least = -1, none
	if c.any {
		least = leave
	}
	c.left -= int64(len(list))
	for _, i := range list {
		if at := c.at(o, i); at < least {
			choice, least = i, at
		}
	}
	return choice, least
}

// cheapest is what each order takes by itself at the prices, and the bound that proves.
func (c *chooser) cheapest(open [][]int) (chosen []int, bound int64) {
	chosen = make([]int, len(open))
	for o, list := range open {
		var least int64
		chosen[o], least = c.lowest(o, list)
		bound += least
	}
	for _, price := range c.prices {
		bound -= price
	}
	return chosen, bound
}

// usage counts how many orders take each barrel.
func (c *chooser) usage(chosen []int) []float64 {
	usage := make([]float64, len(c.prices))
	for o, i := range chosen {
		if i < 0 {
			continue
		}
		for _, b := range c.of[o][i].barrels {
			usage[b]++
		}
	}
	return usage
}

func (c *chooser) take(chosen []int) {
	var total int64
	for o, i := range chosen {
		total += c.of[o][i].cost
	}
	if total < c.cost {
		c.best, c.cost = chosen, total
	}
}

// reprice raises the price of what is wanted more than once and lowers that of what is left over; false when nothing is.
func (c *chooser) reprice(usage []float64, bound int64, step float64) bool {
	length := turn(c.prices, c.direction, usage)
	goal := float64(leave)
	switch {
	case length == 0:
		return false
	case !c.any:
		goal = float64(c.cost-bound) + 1
	}
	move(c.prices, c.direction, step*goal, length)
	return true
}

// drop leaves out the choices with which no plan would cost less than the limit, as the prices prove.
func (c *chooser) drop(open [][]int, bound int64) (dropped bool) {
	limit := c.limit()
	if limit == none {
		return false
	}
	for o, list := range open {
		_, least := c.lowest(o, list)
		open[o] = slices.DeleteFunc(list, func(i int) bool { return bound-least+c.at(o, i) >= limit })
		dropped = dropped || len(open[o]) < len(list)
	}
	if dropped {
		c.least = min(c.least, limit)
	}
	return dropped
}

// greedy builds a plan at the prices, the orders with the fewest choices first.
func (c *chooser) greedy(open [][]int) {
	sequence := make([]int, len(open))
	for o := range sequence {
		sequence[o] = o
	}
	slices.SortStableFunc(sequence, func(a, b int) int { return cmp.Compare(len(open[a]), len(open[b])) })
	used := make([]bool, len(c.prices))
	chosen := make([]int, len(open))
	for _, o := range sequence {
		free := slices.DeleteFunc(slices.Clone(open[o]), func(i int) bool {
			return slices.ContainsFunc(c.of[o][i].barrels, func(b int) bool { return used[b] })
		})
		if chosen[o], _ = c.lowest(o, free); chosen[o] < 0 {
			continue
		}
		for _, b := range c.of[o][chosen[o]].barrels {
			used[b] = true
		}
	}
	if slices.Contains(chosen, -1) {
		c.note(chosen)
		return
	}
	c.take(chosen)
}

// note keeps a plan of some of the orders, while there is none of all, if it fills more of them.
func (c *chooser) note(chosen []int) {
	filled := func(chosen []int) int { return len(chosen) - count(chosen, -1) }
	if c.best == nil && filled(chosen) > filled(c.some) {
		c.some = chosen
	}
}

func count(in []int, what int) (n int) {
	for _, i := range in {
		n += int(boolean(i == what))
	}
	return n
}

// divide is the order with the fewest choices, more than one, and the dearest barrel of its cheapest that another of its choices
// does without; −1 when every order has one choice.
func (c *chooser) divide(open [][]int) (order, barrel int) {
	order, barrel = -1, -1
	for o, list := range open {
		if len(list) > 1 && (order < 0 || len(list) < len(open[order])) {
			order = o
		}
	}
	if order < 0 {
		return order, barrel
	}
	list := slices.Clone(open[order])
	slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(c.at(order, a), c.at(order, b)) })
	for _, i := range list[:2] {
		for _, b := range c.of[order][i].barrels {
			if !c.always(order, list, b) && (barrel < 0 || c.prices[b] > c.prices[barrel]) {
				barrel = b
			}
		}
		if barrel >= 0 {
			break
		}
	}
	return order, barrel
}
