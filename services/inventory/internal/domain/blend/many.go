package blend

import (
	"fmt"

	"barrelhead.example/services/kit/quantity"
)

// ChooseAll plans several orders that share the barrels, no barrel in two of them. It puts a price on every barrel that
// more than one order wants (Lagrangian multipliers of the stock rows), raises and lowers the prices for some rounds,
// fills the orders one by one at those prices, and then fills teams of two and three again with the rest as it is. The prices
// also prove the bound: the sum of what each order costs at least at those prices, less the prices. Where all choices of every
// order that may be part of a better plan can be listed, the cheapest that go together are the answer.
func ChooseAll(orders []Order, barrels []Barrel, opts Options) (*Joint, error) {
	if opts.Nodes == 0 {
		opts.Nodes = DefaultNodes
	}
	if len(orders) == 1 {
		plan, err := Choose(orders[0], barrels, opts)
		if err != nil {
			return nil, err
		}
		return &Joint{Status: plan.Status, Plans: []*Plan{plan}, Cost: plan.Cost, Bound: plan.Bound, Nodes: plan.Nodes}, nil
	}
	m, err := newMany(orders, barrels, opts)
	if err != nil {
		return nil, err
	}
	if of := m.list(min(listTried, m.nodes*tried/listShare)); of != nil {
		m.choose(of)
	} else {
		m.search()
	}
	return m.answer(orders, barrels)
}

func newMany(orders []Order, barrels []Barrel, opts Options) (*many, error) {
	m := &many{
		opts: opts, granted: opts.Nodes * worth, nodes: opts.Nodes * worth, prices: make([]int64, len(barrels)), tight: make([]int64, len(barrels)),
		best: make([][]int, len(orders)), cost: none, bound: -none,
	}
	for i := range orders {
		p, err := newProblem(&orders[i], barrels)
		if err != nil {
			return nil, fmt.Errorf("order %s: %w", orders[i].ID, err)
		}
		m.problems = append(m.problems, p)
	}
	for j := range barrels {
		m.all = append(m.all, j)
		var most int64
		for _, p := range m.problems {
			most = max(most, p.cost[j])
		}
		m.dearest += most
	}
	m.known, m.short = newChoices(m.problems), asked(orders) > offered(barrels)
	return m, nil
}

// search plans orders that have too many choices to be listed.
func (m *many) search() {
	m.run()
	if m.cost == none && !m.short && m.bound <= m.dearest {
		if m.short = m.starves(); !m.short && m.fromAll() {
			return
		}
	}
	if m.short || m.bound > m.dearest {
		return
	}
	m.settle()
	m.certify()
	m.pairs(m.teamWork() * 2 / 3)
	m.teams(m.teamWork())
	m.refine()
	m.exhaust()
}

// worth is how many relaxations a node of the budget stands for among several orders: most are over few barrels.
const worth = 3

func asked(orders []Order) (sum quantity.Mass) {
	for _, o := range orders {
		sum += o.MinWeight
	}
	return sum
}

func offered(barrels []Barrel) (sum quantity.Mass) {
	for _, b := range barrels {
		sum += b.Weight
	}
	return sum
}

// many is the search over several orders.
type many struct {
	opts     Options
	granted  int64 // work
	nodes    int64 // of it, left
	problems []*problem
	all      []int     // barrels
	prices   []int64   // by barrel, in the unit of costs
	tight    []int64   // those that proved the bound
	leaves   [][]*leaf // by order
	bounding []*leaf   // the leaf of each order that bounds it at the prices
	dearer   [][]int64 // reduced costs at the tight prices, by order and barrel
	best     [][]int   // columns of each order; nil while it is not filled
	cost     int64     // of best when every order is filled, or none
	bound    int64
	dearest  int64 // no plan can cost more
	known    *choices
	alone    []int64 // what each order costs at least by itself at the tight prices, once certified
	quick    bool    // what an order costs by itself is quickly told
	short    bool    // the stock is proved not to suffice
	// direction of the prices in the last round.
	direction []float64
	first     []int // orders that were left over before, to be filled first
}

// Rounds of prices, and after which of them the orders are filled: once at the start, so that the gap is known, and then
// when the prices have had time to settle.
const (
	rounds    = 480
	fillEvery = 80
	// fillNodes is the work spent on all orders together when they are filled.
	fillNodes = 12_000
	// patience is how many rounds without a better bound halve the step.
	patience = 12
	// divideEvery is after how many rounds the orders are divided further.
	divideEvery = 20
	// momentum is the part of the last direction that is kept: prices of barrels that many orders want take turns else.
	momentum = 0.6
)

func (m *many) run() {
	m.direction = make([]float64, len(m.prices))
	m.prepare()
	step, stale := 1.0, 0
	last := m.bound
	for round := range rounds + 1 {
		usage, bound := m.relax(m.own, round%divideEvery == divideEvery-1)
		if bound == none {
			m.bound = none
			return
		}
		if stale++; bound > m.bound {
			m.bound, stale = bound, 0
			copy(m.tight, m.prices)
		}
		if round%fillEvery == 0 {
			if m.settled(last) {
				return
			}
			last = m.bound
			m.fill(round > 0)
		}
		if m.nodes <= 0 || m.done() || m.short || m.bound > m.dearest {
			return
		}
		if stale >= patience {
			step, stale = step/2, 0
		}
		m.reprice(usage, bound, step)
	}
}

// settled reports that the bound has all but stopped rising since it was last looked at.
func (m *many) settled(last int64) bool {
	return m.cost != none && last != -none && m.bound-last < (m.cost-m.bound)/10
}

// own is what the barrels cost an order.
func (m *many) own(o int) []int64 { return m.problems[o].cost }

func (m *many) done() bool {
	return m.cost != none && m.bound >= m.cost-tolerance(m.cost, m.opts.Gap)
}
