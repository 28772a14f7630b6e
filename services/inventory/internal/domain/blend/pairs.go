package blend

import (
	"cmp"
	"math/bits"
	"slices"
)

const (
	// pairTried bounds the sets tried for one order of a pair, and pairBarrels those offered: a set of them is a number.
	pairTried, pairBarrels = 400_000, 63
	// pairSets is what those that are offered may have of sets; the weight of barrels differs.
	pairSets = pairTried / 3
	// pairLooked bounds the choices of two orders that are put together.
	pairLooked = 4_000_000
	// tried is how many sets tried count as one relaxation, and matched how many choices put together.
	tried, matched = 300, 3000
	// idlePairs is how many passes in a row may make nothing better.
	idlePairs = 12
)

// pairs fills orders of few barrels again two at a time, and exactly: every choice of each of the two is listed, and the cheapest
// that have no barrel in common are taken. It ends when the work is used up or many passes made nothing better.
func (m *many) pairs(work int64) {
	if m.cost == none {
		return
	}
	n, end := len(m.problems), m.nodes-work
	for pass, stale := 0, 0; stale < idlePairs; pass++ {
		before := m.cost
		for a := range n {
			for b := range a {
				if m.nodes <= end || m.done() {
					return
				}
				m.pair(a, b, pass)
			}
		}
		if stale++; m.cost < before {
			stale = 0
		}
	}
}

// bunch is a choice of an order: which of the barrels offered, bit by bit.
type bunch struct {
	cost int64
	of   uint64
}

// pair fills two orders again. Of plans that cost the same as the one at hand another is taken by chance, which leads on where no
// pair alone makes the whole cheaper.
func (m *many) pair(a, b, pass int) {
	offered := m.pairOffer(a, b, pass)
	if offered == nil {
		return
	}
	first, second := m.bunches(a, offered), m.bunches(b, offered)
	if len(first) == 0 || len(second) == 0 {
		return
	}
	best, rank := m.problems[a].total(m.best[a])+m.problems[b].total(m.best[b]), uint64(0)
	var one, two uint64
	left := pairLooked
	for _, x := range first {
		if x.cost+second[0].cost > best {
			break
		}
		for _, y := range second {
			if left--; left < 0 || x.cost+y.cost > best {
				break
			}
			if x.of&y.of != 0 {
				continue
			}
			if r := chance(pass, int(x.of), int(y.of)); x.cost+y.cost < best || r >= rank { //nolint:gosec // 63 bits
				best, rank, one, two = x.cost+y.cost, r, x.of, y.of
			}
		}
	}
	m.nodes -= (pairLooked - int64(left)) / matched
	if one == 0 || two == 0 {
		return
	}
	plan := slices.Clone(m.best)
	plan[a], plan[b] = barrelsOf(one, offered), barrelsOf(two, offered)
	m.known.add(a, plan[a])
	m.known.add(b, plan[b])
	m.best, m.cost = plan, m.total(plan)
}

// bunches are the choices of an order, the cheapest first; none if they are too many.
func (m *many) bunches(o int, offered []int) (out []bunch) {
	p := m.problems[o]
	place := make([]int, len(m.prices))
	for i, j := range offered {
		place[j] = i
	}
	s := newSweep(p, offered, pairTried, func(chosen []int) {
		x := bunch{cost: p.total(chosen)}
		for _, j := range chosen {
			x.of |= 1 << place[j]
		}
		out = append(out, x)
	})
	done := s.run()
	m.nodes -= (pairTried - s.left) / tried
	if !done {
		return nil
	}
	slices.SortFunc(out, func(x, y bunch) int { return cmp.Or(cmp.Compare(x.cost, y.cost), cmp.Compare(x.of, y.of)) })
	return out
}

func barrelsOf(of uint64, offered []int) (out []int) {
	for ; of != 0; of &= of - 1 {
		out = append(out, offered[bits.TrailingZeros64(of)])
	}
	return out
}

// pairOffer are the barrels of two orders and as many of those nobody uses as make not too many sets: in the first pass the most
// promising, afterwards any; nil where there are too many without them.
func (m *many) pairOffer(a, b, pass int) []int {
	own := slices.Concat(m.best[a], m.best[b])
	size := max(len(m.best[a]), len(m.best[b]))
	most := len(own)
	for most < pairBarrels && sets(most+1, size, pairSets) <= pairSets {
		most++
	}
	if most > pairBarrels || sets(most, size, pairSets) > pairSets {
		return nil
	}
	var idle []int
	for _, j := range m.offer([]int{a, b}) {
		if !slices.Contains(own, j) {
			idle = append(idle, j)
		}
	}
	rank := make([]int64, len(m.prices))
	for _, j := range idle {
		rank[j] = min(m.dearer[a][j], m.dearer[b][j]) - m.tight[j]
		if pass%2 == 1 {
			rank[j] = int64(chance(j, pass, a, b) >> 1)
		}
	}
	slices.SortStableFunc(idle, func(x, y int) int { return cmp.Compare(rank[x], rank[y]) })
	out := append(own, idle[:min(len(idle), most-len(own))]...)
	slices.Sort(out)
	return out
}
