package blend

// Owners of a barrel in a branch beside the orders, which count from 0.
const (
	anyone = -1
	nobody = -2
)

// assigned bounds the size, barrels times orders, up to which it is tried to prove a joint plan to the end, and assignNodes
// the work spent on it.
const (
	assigned    = 1200
	assignNodes = 60_000
	orderNodes  = 3000
)

// assigner decides barrel by barrel which order gets it, where the best that each order could do by itself at the prices
// does not settle that. The sum of those is a bound, as with the relaxations, but of whole barrels.
type assigner struct {
	*many
	owner []int
	least int64 // of the bounds of everything given up
	left  int64
}

// assign proves a joint plan over few barrels to the end, or finds one where stock is tight, or proves that there is none.
func (m *many) assign() {
	if len(m.problems)*len(m.prices) > assigned || m.done() || m.short || m.bound > m.dearest {
		return
	}
	a := &assigner{many: m, owner: make([]int, len(m.prices)), least: none, left: assignNodes}
	for b := range a.owner {
		a.owner[b] = anyone
	}
	a.node(m.bound)
	m.bound = max(m.bound, min(a.least, m.cost))
}

// pruned gives up a branch that cannot be better than the plan at hand.
func (a *assigner) pruned(bound int64) bool {
	if a.cost == none || bound < a.cost-tolerance(a.cost, a.opts.Gap) {
		return false
	}
	a.least = min(a.least, bound)
	return true
}

func (a *assigner) node(above int64) {
	if a.pruned(above) {
		return
	}
	if a.left <= 0 {
		a.least = min(a.least, above)
		return
	}
	plan, bound, fits := a.alone()
	if !fits {
		return
	}
	bound = max(bound, above)
	if a.pruned(bound) {
		return
	}
	if plan == nil {
		a.least = min(a.least, bound)
		return
	}
	barrel := a.disputed(plan)
	if barrel < 0 {
		a.take(plan)
		if a.pruned(bound) {
			return
		}
		if barrel = a.idle(plan); barrel < 0 {
			a.least = min(a.least, bound)
			return
		}
	}
	for _, o := range a.claims(plan, barrel) {
		a.owner[barrel] = o
		a.node(bound)
	}
	a.owner[barrel] = anyone
}

// alone is what every order would take by itself at the prices; nil when the work ended before one had a plan. fits is false
// when one is proved to have none.
func (a *assigner) alone() (plan [][]int, bound int64, fits bool) {
	plan = make([][]int, len(a.problems))
	whole := true
	for o := range a.problems {
		s := a.searchFor(o)
		before := s.nodes
		s.run()
		a.left -= before - s.nodes
		a.nodes -= before - s.nodes
		if s.hopeless() {
			return nil, none, false
		}
		switch least := min(s.bound, s.cost); {
		case least == -none || bound == -none:
			bound = -none
		default:
			bound += least
		}
		plan[o] = s.best
		whole = whole && s.best != nil
	}
	for b, p := range a.tight {
		if a.owner[b] == anyone && bound != -none {
			bound -= p
		}
	}
	if !whole {
		plan = nil
	}
	return plan, bound, true
}

// searchFor is the search of one order over the barrels that are its own or anyone's, the latter at their price.
func (a *assigner) searchFor(o int) *search {
	p := *a.problems[o]
	p.cost = make([]int64, len(a.tight))
	s := newSearch(&p, Options{Nodes: max(1, min(orderNodes, a.left))})
	s.columns = s.columns[:0]
	for b, price := range a.tight {
		p.cost[b] = a.problems[o].cost[b]
		switch a.owner[b] {
		case anyone:
			p.cost[b] += price
			s.columns = append(s.columns, b)
		case o:
			s.forced = append(s.forced, b)
		}
	}
	return s
}

// disputed is the barrel most orders want, −1 when none is wanted twice.
func (a *assigner) disputed(plan [][]int) int {
	wanted := make([]int, len(a.owner))
	barrel := -1
	for _, chosen := range plan {
		for _, b := range chosen {
			wanted[b]++
		}
	}
	for b, n := range wanted {
		if n > 1 && (barrel < 0 || n > wanted[barrel] || (n == wanted[barrel] && a.tight[b] > a.tight[barrel])) {
			barrel = b
		}
	}
	return barrel
}

// idle is the dearest barrel nobody took although it has a price: what keeps the bound below the plan.
func (a *assigner) idle(plan [][]int) int {
	taken := make([]bool, len(a.owner))
	for _, chosen := range plan {
		for _, b := range chosen {
			taken[b] = true
		}
	}
	barrel := -1
	for b, price := range a.tight {
		if !taken[b] && a.owner[b] == anyone && price > 0 && (barrel < 0 || price > a.tight[barrel]) {
			barrel = b
		}
	}
	return barrel
}

// take keeps a plan without disputes if it is the best so far.
func (a *assigner) take(plan [][]int) {
	if total := a.total(plan); total < a.cost {
		a.best, a.cost = plan, total
	}
}

// claims are who may get a barrel, those that want it first and nobody last.
func (a *assigner) claims(plan [][]int, barrel int) []int {
	var want, other []int
	for o, chosen := range plan {
		wants := false
		for _, b := range chosen {
			wants = wants || b == barrel
		}
		if wants {
			want = append(want, o)
		} else {
			other = append(other, o)
		}
	}
	return append(append(want, other...), nobody)
}
