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

// span is a box of counts with a proved bound on the cost of all its plans.
type span struct {
	box
	bound  int64
	counts []float64 // in the relaxation
	root   *relaxation
	number int // of making: settles ties
}

// run searches the whole problem.
func (s *search) run() {
	if s.p.crossed() {
		return
	}
	open := &spans{}
	s.push(open, s.p.all())
	for open.Len() > 0 && !s.done() {
		next := heap.Pop(open).(*span)
		if next.bound >= s.goal() || s.nodes <= 0 {
			s.giveUp(next.bound)
			continue
		}
		parts := next.split(next.counts)
		if parts == nil {
			s.settle(next)
			continue
		}
		for _, b := range parts {
			s.push(open, b)
		}
	}
	for _, left := range *open {
		s.giveUp(left.bound)
	}
}

// push queues a box of counts unless it is proved to hold nothing.
func (s *search) push(open *spans, b box) {
	l := newRelaxation(s.p.take(s.columns, s.forced, b))
	s.nodes--
	s.made++
	next := &span{box: b, bound: -none, root: l, number: s.made}
	switch l.solve() {
	case impossible:
		if l.forbidden(&s.proof) {
			return
		}
	case solved:
		if bound, ok := l.lower(&s.proof); ok {
			next.bound = bound
		}
	case unclear:
	}
	next.counts = l.counted(s.p)
	heap.Push(open, next)
}

// settle searches one count of barrels: small cores first, for a good plan, then all that the proof with that plan cannot
// exclude.
func (s *search) settle(at *span) {
	l := at.root
	if _, ok := l.lower(&s.proof); !ok {
		s.explore(s.p.take(l.cols, s.forced, at.box), at.bound, s.nodes)
		return
	}
	reduced := slices.Clone(s.proof.cost)
	shift := s.proof.shift
	for _, core := range cores {
		if core.columns >= l.n || at.bound >= s.goal() || s.done() {
			break
		}
		s.try(s.core(l, reduced, core.columns, at), core.nodes)
	}
	if at.bound >= s.goal() || s.done() {
		s.giveUp(at.bound)
		return
	}
	s.explore(s.rest(l, reduced, shift, at), at.bound, s.nodes)
}

// try explores a part for plans only: what it gives up proves nothing of the whole.
func (s *search) try(part *part, nodes int64) {
	bound := s.bound
	s.explore(part, -none, nodes)
	s.bound = bound
}

// core opens the columns with the smallest reduced costs and leaves every other where the relaxation has it.
func (s *search) core(l *relaxation, reduced []int64, size int, at *span) *part {
	order := make([]int, l.n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(rank(l, reduced, a), rank(l, reduced, b)), cmp.Compare(a, b))
	})
	open := slices.Clone(order[:size])
	slices.Sort(open)
	taken := slices.Clone(s.forced)
	for _, i := range order[size:] {
		if l.where[i] == atHigh {
			taken = append(taken, l.cols[i])
		}
	}
	slices.Sort(taken)
	for n, i := range open {
		open[n] = l.cols[i]
	}
	return s.p.take(open, taken, at.box)
}

func rank(l *relaxation, reduced []int64, i int) int64 {
	if l.where[i] == basic {
		return 0
	}
	return abs(reduced[i])
}

// rest opens every column whose move away from the relaxation is not proved to cost more than the goal.
func (s *search) rest(l *relaxation, reduced []int64, shift uint, at *span) *part {
	goal := s.goal()
	if goal == none || goal-at.bound > room>>shift || s.p.order.PartBarrel {
		return s.p.take(l.cols, s.forced, at.box)
	}
	far := (goal - at.bound + 1) << shift
	var open []int
	taken := slices.Clone(s.forced)
	for i := range l.n {
		switch {
		case l.where[i] == basic || abs(reduced[i]) < far || (reduced[i] < 0 && s.p.members > 0):
			open = append(open, l.cols[i])
		case reduced[i] < 0:
			taken = append(taken, l.cols[i])
		}
	}
	s.giveUp(goal)
	return s.p.take(open, taken, at.box)
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
