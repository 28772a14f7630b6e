package blend

import (
	"cmp"
	"container/heap"
	"slices"
)

// Options bound the work of a plan. The same options give the same plan on every machine.
type Options struct {
	// Nodes is the most relaxations of the search, 0 for DefaultNodes.
	Nodes int64
	// Gap is how far above its bound, in parts per million of its cost, a plan may be and still be called proved. 0 asks
	// for the very best.
	Gap int64
}

// DefaultNodes is enough to prove most orders over a thousand barrels.
const DefaultNodes = 200_000

// cores are the sizes of the small problems, made of the columns the relaxation finds it hardest to tell apart, that give
// near-best plans at once, and the nodes each may take.
var cores = []struct {
	columns int
	nodes   int64
}{{30, 500}, {70, 1500}, {160, 4000}}

// diveNodes is the work spent on the columns of a region before it is divided at something larger.
const diveNodes = 200

// span is a region with a proved bound on the cost of all its plans.
type span struct {
	region
	bound   int64
	root    *relaxation
	reduced []int64 // of the columns of root, as proved with bound; nil where nothing is
	shift   uint
	counts  bool // all decided
	number  int  // of making: settles ties
}

// run searches the whole problem.
func (s *search) run() {
	if s.p.crossed() {
		return
	}
	open := &spans{}
	if first := s.span(s.p.whole(s.columns, s.forced).closed(s.p), nil); first != nil {
		heap.Push(open, first)
	}
	for open.Len() > 0 && !s.done() {
		next := heap.Pop(open).(*span)
		if next.bound >= s.goal() || s.nodes <= 0 {
			s.giveUp(next.bound)
			continue
		}
		for _, part := range s.divide(next) {
			heap.Push(open, part)
		}
	}
	for _, left := range *open {
		s.giveUp(left.bound)
	}
}

// span solves the relaxation of a region of another span; nil if it is proved to hold no plan.
func (s *search) span(g region, of *span) *span {
	s.made++
	at := &span{region: g, bound: -none, number: s.made}
	if of != nil {
		at.bound, at.counts = of.bound, of.counts
	}
	for range memberRounds {
		at.root = newRelaxation(s.p.take(&at.region))
		s.nodes -= 1 + int64(len(g.open))/heavy
		result := at.root.solve()
		if result == impossible && at.root.forbidden(&s.proof) {
			return nil
		}
		if result != solved {
			break
		}
		if bound, ok := at.root.lower(&s.proof); ok {
			at.bound = max(at.bound, bound)
			if bound == at.bound {
				at.reduced, at.shift = append(at.reduced[:0], s.proof.cost...), s.proof.shift
			}
		}
		if at.bound >= s.goal() || !s.cut(at) {
			break
		}
	}
	if s.p.members > 0 {
		at.lean()
	}
	return at
}

// divide settles a span, or returns spans that together hold all its plans worth having.
func (s *search) divide(at *span) []*span {
	if !at.counts {
		if parts := at.split(s.p, at.root); parts != nil {
			return s.halves(parts, at)
		}
		at.counts = true
		s.seed(at)
		return []*span{at}
	}
	if at.reduced == nil || s.p.order.PartBarrel {
		s.explore(s.p.take(&at.region), at.bound, s.nodes)
		return nil
	}
	if s.narrow(at) {
		again := s.span(at.region, at)
		if again == nil {
			return nil
		}
		return []*span{again}
	}
	if s.exhausted(at) {
		return nil
	}
	if parts, ok := s.branch(at); ok {
		return parts
	}
	s.explore(s.p.take(&at.region), at.bound, s.nodes)
	return nil
}

// halves are the spans of regions that hold a plan.
func (s *search) halves(parts []region, of *span) (out []*span) {
	for _, g := range parts {
		if half := s.span(g, of); half != nil {
			out = append(out, half)
		}
	}
	return out
}

// exhausted looks through a region for a while; what it gives up counts only if it came to the end.
func (s *search) exhausted(at *span) bool {
	bound := s.bound
	if s.explore(s.p.take(&at.region), at.bound, diveNodes) {
		return true
	}
	s.bound = bound
	return false
}

// seed looks for good plans in small cores.
func (s *search) seed(at *span) {
	if at.reduced == nil || s.within != 0 {
		return
	}
	for _, core := range cores {
		if core.columns >= at.root.n || at.bound >= s.goal() || s.done() {
			return
		}
		bound := s.bound
		s.explore(s.core(at, core.columns), -none, core.nodes)
		s.bound = bound
	}
}

// core opens the columns with the smallest reduced costs and leaves every other where the relaxation has it.
func (s *search) core(at *span, size int) *part {
	l := at.root
	order := make([]int, l.n)
	for i := range order {
		order[i] = i
	}
	rank := func(i int) int64 {
		if l.where[i] == basic {
			return 0
		}
		return abs(at.reduced[i])
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a, b)) })
	g := at.region
	g.open, g.taken, g.in = nil, slices.Clone(g.taken), slices.Clone(g.in)
	for n, i := range order {
		switch j := l.cols[i]; {
		case n < size:
			g.open = append(g.open, j)
		case l.where[i] == atHigh:
			g.taken = append(g.taken, j)
			g.in[l.group[i]] = true
		}
	}
	slices.Sort(g.open)
	slices.Sort(g.taken)
	return s.p.take(&g)
}

// narrow leaves out, or takes, every column whose move away from the relaxation is proved to cost more than the goal. It
// reports whether so many went that another look at the relaxation is worth it.
func (s *search) narrow(at *span) bool {
	goal := s.goal()
	if goal == none || goal-at.bound > room>>at.shift {
		return false
	}
	far := (goal - at.bound + 1) << at.shift
	l := at.root
	open, taken := make([]int, 0, l.n), slices.Clone(at.taken)
	for i, d := range at.reduced {
		switch j := l.cols[i]; {
		case l.where[i] == basic || abs(d) < far:
			open = append(open, j)
		case d < 0:
			taken = append(taken, j)
		}
	}
	if len(open) == l.n {
		return false
	}
	slices.Sort(taken)
	s.giveUp(goal)
	g := at.region
	g.open, g.taken = open, taken
	g.in = slices.Clone(g.in)
	for _, j := range taken {
		g.in[s.p.group[j]] = true
	}
	at.region = g.closed(s.p)
	return true
}

// spans is a heap with the lowest bound on top.
type spans []*span

func (h spans) Len() int { return len(h) }
func (h spans) Less(i, j int) bool {
	return h[i].bound < h[j].bound || (h[i].bound == h[j].bound && h[i].number < h[j].number)
}
func (h spans) Swap(i, j int) { h[i], h[j] = h[j], h[i] }

// Push and Pop belong to container/heap.
func (h *spans) Push(x any) { *h = append(*h, x.(*span)) }

// Pop takes the last.
func (h *spans) Pop() any {
	old := *h
	last := old[len(old)-1]
	*h = old[:len(old)-1]
	return last
}
