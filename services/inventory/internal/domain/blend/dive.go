package blend

import (
	"math"
	"slices"
)

// none is the cost of no plan.
const none = math.MaxInt64

// search looks for the cheapest choice of one problem and proves how far from it the best one found can be.
type search struct {
	p *problem
	// slack is how far above the bound, in parts per million of its own cost, a plan may be and still count as proved.
	slack  int64
	nodes  int64     // left
	best   []int     // columns, or nil
	beside *fraction // of best: the barrel used in part beside them, or nil
	cost   int64     // of best, or none
	// bound is the least of the bounds of everything given up without looking further.
	bound int64
	// first ends the search at the first plan: whether there is one is all that is asked.
	first bool
	// columns are those that may be used; newSearch allows all.
	columns []int
	// forced are used in any case, beside those of columns.
	forced []int
	spaces []*relaxation // by depth
	made   int           // spans
	proof  price
	// seen, unless nil, is told every choice of columns that keeps the limits.
	seen func(chosen []int)
	// within, unless 0, makes the search look at every choice that costs less, and not only at better and better ones.
	within int64
}

func newSearch(p *problem, o Options) *search {
	all := make([]int, len(p.barrels))
	for i := range all {
		all[i] = i
	}
	return &search{p: p, slack: o.Gap, nodes: o.Nodes, cost: none, bound: none, columns: all}
}

// goal is what a branch must promise to stay below to be worth a look.
func (s *search) goal() int64 {
	if s.within != 0 {
		return s.within
	}
	if s.cost == none {
		return none
	}
	return s.cost - max(tolerance(s.cost, s.slack), s.p.stepCost)
}

func tolerance(cost, millionths int64) int64 {
	whole, rest := abs(cost)/1_000_000, abs(cost)%1_000_000
	return whole*millionths + rest*millionths/1_000_000
}

func (s *search) done() bool { return s.first && s.best != nil }

// giveUp notes that a branch of at least this cost is left.
func (s *search) giveUp(bound int64) { s.bound = min(s.bound, bound) }

// accept takes a choice of columns if it keeps every limit and is cheaper than the best.
func (s *search) accept(chosen []int) bool {
	if !s.p.fits(chosen) {
		return false
	}
	if s.seen != nil {
		s.seen(chosen)
	}
	if cost := s.p.total(chosen); cost < s.cost {
		s.keep(cost, chosen, nil)
	}
	return true
}

// keep notes the best plan so far. One of no whole barrel is a plan too, hence never nil.
func (s *search) keep(cost int64, chosen []int, rest *fraction) {
	s.cost, s.best, s.beside = cost, append([]int{}, chosen...), rest
	slices.Sort(s.best)
}

// explore searches a part, of which a bound is known, depth first with at most limit nodes. It reports whether that was
// enough.
func (s *search) explore(part *part, bound, limit int64) bool {
	s.spaces = s.spaces[:0]
	limit = min(limit, s.nodes)
	d := dive{search: s, part: part, left: limit}
	// Of choices alike each may be the one that leaves the right barrels to another order.
	if !s.p.order.PartBarrel && s.within == 0 {
		d.after, d.before = part.twins()
	}
	d.node(d.space(0), 0, bound)
	s.nodes -= limit - d.left
	return d.left > 0
}

// heavy is how many columns make a relaxation count as one node more: the budget is of work.
const heavy = 250

// dive is one depth-first search of a part.
type dive struct {
	*search
	*part
	left int64
	// after and before are the next and the last column that differs from a column in nothing but its id, −1 for none.
	after, before []int
}

// settle fixes a column, and of those like it the lower ids first: what takes a higher id in place of a lower one costs the
// same and keeps the same.
func (d *dive) settle(l *relaxation, column int, value int8) {
	l.fix(column, value)
	if d.after == nil {
		return
	}
	next := d.after
	if value == 1 {
		next = d.before
	}
	for i := next[column]; i >= 0; i = next[i] {
		if l.fixed[i] == open {
			l.fix(i, value)
		}
	}
}

// space is the relaxation of a depth.
func (d *dive) space(depth int) *relaxation {
	for len(d.spaces) <= depth {
		d.spaces = append(d.spaces, newRelaxation(d.part))
	}
	return d.spaces[depth]
}

// node solves the relaxation of a branch and branches again. above is a bound known for it.
func (d *dive) node(l *relaxation, depth int, above int64) {
	if d.done() {
		return
	}
	if d.left <= 0 {
		d.giveUp(above)
		return
	}
	d.left -= 1 + int64(d.n)/heavy
	if !d.closeMembers(l) {
		return
	}
	result := l.solve()
	if result == impossible && l.forbidden(&d.proof) {
		return
	}
	if result != unclear {
		if bound, ok := l.lower(&d.proof); ok {
			above = max(above, bound)
			if above >= d.goal() {
				d.giveUp(above)
				return
			}
			// The reduced costs go with the bound they were proved with, not with an earlier one.
			d.reduce(l, bound)
		}
	}
	if result == solved {
		if g := d.spread(l); g >= 0 {
			d.decide(l, depth, g, above)
			return
		}
	}
	column, value := d.choose(l, result, above)
	if column < 0 {
		return
	}
	for _, v := range [2]int8{value, 1 - value} {
		child := d.space(depth + 1)
		child.copyFrom(l)
		d.settle(child, column, v)
		d.node(child, depth+1, above)
	}
	if d.p.order.PartBarrel && l.parted < 0 {
		child := d.space(depth + 1)
		child.copyFrom(l)
		child.parted = column
		d.node(child, depth+1, above)
	}
}

// spread is the member with the most barrels in the relaxation that is not known to be in, while there are more members in
// it than may be; −1 when they fit.
func (d *dive) spread(l *relaxation) int {
	if d.p.members == 0 {
		return -1
	}
	barrels := make([]float64, len(l.in))
	for _, i := range l.active {
		if l.where[i] == atHigh {
			barrels[d.part.group[i]]++
		}
	}
	for k, v := range l.head {
		if v < l.n {
			barrels[d.part.group[v]] += l.values[k]
		}
	}
	var members int64
	most := -1
	for g, n := range barrels {
		if l.in[g] {
			members++
		} else if n > integral {
			members++
			if most < 0 || n > barrels[most] {
				most = g
			}
		}
	}
	if members <= d.p.members {
		return -1
	}
	return most
}

// decide branches on whether a member is in.
func (d *dive) decide(l *relaxation, depth, member int, above int64) {
	for _, in := range [2]bool{true, false} {
		child := d.space(depth + 1)
		child.copyFrom(l)
		child.in[member] = in
		for _, i := range l.active {
			if !in && child.fixed[i] == open && d.part.group[i] == member {
				child.fix(i, 0)
			}
		}
		d.node(child, depth+1, above)
	}
}

// reduce fixes every column whose move to its other bound would by the proof at hand cost more than the goal. The proof
// counts open columns at their cheaper bound, so moving one adds the magnitude of its reduced cost.
func (d *dive) reduce(l *relaxation, bound int64) {
	goal := d.goal()
	if d.p.order.PartBarrel && l.parted < 0 {
		// A column that cannot move to its other bound may still move a little.
		return
	}
	if goal == none || goal-bound > room>>d.proof.shift {
		return
	}
	far := (goal - bound + 1) << d.proof.shift
	for _, i := range l.active {
		c := d.proof.cost[i]
		if l.fixed[i] != open || l.where[i] == basic || abs(c) < far || i == l.parted {
			continue
		}
		d.giveUp(goal)
		l.fix(i, bit(c < 0))
	}
}

// choose returns the column to branch on and the value to try first, or −1 when the branch is finished.
func (d *dive) choose(l *relaxation, result outcome, above int64) (int, int8) {
	if result == solved {
		if d.acceptParted(l) && (d.done() || above >= d.goal()) {
			d.giveUp(above)
			return -1, 0
		}
		if i, v := fractional(l); i >= 0 {
			return i, v
		}
		if d.accept(d.chosen(l)) && (d.done() || above >= d.goal()) {
			d.giveUp(above)
			return -1, 0
		}
	}
	// Whole, but over the cap on members, or off by a rounding, or unclear: decide one column after another, and the
	// exact check decides at the end.
	for _, i := range l.active {
		if l.fixed[i] == open && l.where[i] != atLow && i != l.parted {
			return i, 1
		}
	}
	for _, i := range l.active {
		if l.fixed[i] == open && i != l.parted {
			return i, 0
		}
	}
	d.accept(d.chosen(l))
	d.acceptParted(l)
	return -1, 0
}

// bit is the value of a column.
func bit(one bool) int8 {
	if one {
		return 1
	}
	return 0
}

// fractional is the basic column furthest from whole, and the nearer of its bounds.
func fractional(l *relaxation) (int, int8) {
	column, most := -1, integral
	var value int8
	for k, v := range l.head {
		if v >= l.n || l.fixed[v] != open || v == l.parted {
			continue
		}
		x := l.values[k]
		if away := math.Min(x, 1-x); away > most || (away == most && v < column) {
			column, most, value = v, away, bit(x > 0.5)
		}
	}
	return column, value
}

// chosen are the columns of the problem at one.
func (d *dive) chosen(l *relaxation) []int {
	out := slices.Clone(d.taken)
	for _, i := range l.active {
		if l.where[i] == atHigh || (l.where[i] != basic && l.fixed[i] == 1) {
			out = append(out, d.cols[i])
		}
	}
	for k, v := range l.head {
		if v < l.n && l.values[k] > 0.5 {
			out = append(out, d.cols[v])
		}
	}
	return out
}

// closeMembers leaves out the barrels of everybody else once the barrels taken have as many members as may be; false when
// they have more.
func (d *dive) closeMembers(l *relaxation) bool {
	if d.p.members == 0 {
		return true
	}
	in := l.in
	for _, i := range l.active {
		if l.fixed[i] == 1 {
			in[d.part.group[i]] = true
		}
	}
	var members int64
	for _, is := range in {
		members += boolean(is)
	}
	if members > d.p.members {
		return false
	}
	if members == d.p.members {
		for _, i := range l.active {
			if l.fixed[i] == open && !in[d.part.group[i]] {
				l.fix(i, 0)
			}
		}
	}
	return true
}
