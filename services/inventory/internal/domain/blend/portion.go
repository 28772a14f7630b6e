package blend

import (
	"encoding/binary"
	"math"
	"slices"
)

// part is a problem with some columns decided: the open ones in a compact layout, the row bounds less what is taken.
type part struct {
	cols      []int   // columns of the problem still open
	coef      []int64 // rows of the first open column, then of the second …
	cost      []int64
	low, high []int64
	taken     []int // columns of the problem already chosen
	takenCost int64
	group     []int
	taking    []bool // by group: a member already in
	members   int64  // the cap on them, 0 for none

	// The same, scaled by powers of two for the search in floating point.
	fcoef       []float64
	fcost       []float64
	flow, fhigh []float64
	rowScale    []float64
	costScale   float64
	rows, n     int
	origin      []int // of each row, in the region
}

// take makes the part of p that is a region: every column neither open nor taken is left out. Rows that nothing open can
// break are too.
func (p *problem) take(g *region) *part {
	var rows []row
	var low, high []int64
	var origin []int
	for i := range g.rows {
		l, h, needed := p.rest(g, i)
		if needed {
			rows, low, high, origin = append(rows, g.rows[i]), append(low, l), append(high, h), append(origin, i)
		}
	}
	s := &part{
		cols: g.open, taken: g.taken, rows: len(rows), n: len(g.open), group: make([]int, len(g.open)),
		taking: g.in, members: p.members, takenCost: p.total(g.taken),
		coef: make([]int64, len(g.open)*len(rows)), cost: make([]int64, len(g.open)), low: low, high: high, origin: origin,
	}
	for i, j := range g.open {
		s.cost[i], s.group[i] = p.cost[j], p.group[j]
		for r := range rows {
			s.coef[i*s.rows+r] = rows[r].coef[j]
		}
	}
	s.scale()
	return s
}

// rest are the bounds of a row less what is taken, and whether open columns can break them.
func (p *problem) rest(g *region, r int) (low, high int64, needed bool) {
	low, high = g.rows[r].low, g.rows[r].high
	if p.order.PartBarrel && slices.Contains(p.counts, r) {
		// Counts are of whole barrels; the part comes on top.
		high++
	}
	for _, j := range g.taken {
		low, high = less(low, g.rows[r].coef[j]), less(high, g.rows[r].coef[j])
	}
	var least, most int64
	for _, j := range g.open {
		if c := g.rows[r].coef[j]; c < 0 {
			least += c
		} else {
			most += c
		}
	}
	return low, high, least < low || most > high
}

// less takes v off a bound, if it is one.
func less(bound, v int64) int64 {
	if bound == free || bound == -free {
		return bound
	}
	return bound - v
}

func (s *part) scale() {
	s.rowScale = make([]float64, s.rows)
	s.fcoef, s.fcost = make([]float64, len(s.coef)), make([]float64, s.n)
	s.flow, s.fhigh = make([]float64, s.rows), make([]float64, s.rows)
	for r := range s.rows {
		var most int64
		for i := range s.n {
			most = max(most, abs(s.coef[i*s.rows+r]))
		}
		s.rowScale[r] = powerBelow(most)
		for i := range s.n {
			s.fcoef[i*s.rows+r] = float64(s.coef[i*s.rows+r]) * s.rowScale[r]
		}
		s.flow[r], s.fhigh[r] = scaledBound(s.low[r], s.rowScale[r]), scaledBound(s.high[r], s.rowScale[r])
	}
	s.scaleCost()
}

func (s *part) scaleCost() {
	var most int64
	for _, c := range s.cost {
		most = max(most, abs(c))
	}
	s.costScale = powerBelow(most)
	for i, c := range s.cost {
		s.fcost[i] = float64(c) * s.costScale
	}
}

// twins links the columns that differ in nothing but their ids, in their order.
func (s *part) twins() (after, before []int) {
	after, before = make([]int, s.n), make([]int, s.n)
	last := map[string]int{}
	var key []byte
	for i := range s.n {
		after[i], before[i] = -1, -1
		key = binary.LittleEndian.AppendUint64(key[:0], uint64(s.cost[i])) //nolint:gosec // any number of its own will do
		key = binary.LittleEndian.AppendUint64(key, uint64(s.group[i]))    //nolint:gosec // likewise
		for _, c := range s.coef[i*s.rows : (i+1)*s.rows] {
			key = binary.LittleEndian.AppendUint64(key, uint64(c)) //nolint:gosec // likewise
		}
		if j, known := last[string(key)]; known {
			after[j], before[i] = i, j
		}
		last[string(key)] = i
	}
	return after, before
}

// powerBelow is a power of two that brings v near one: scaling by it rounds nothing.
func powerBelow(v int64) float64 {
	if v == 0 {
		return 1
	}
	_, e := math.Frexp(float64(v))
	return math.Ldexp(1, -e)
}

func scaledBound(v int64, scale float64) float64 {
	switch v {
	case free:
		return math.Inf(1)
	case -free:
		return math.Inf(-1)
	default:
		return float64(v) * scale
	}
}
