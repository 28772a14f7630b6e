package blend

import (
	"encoding/binary"
	"math"
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
}

// take makes the part of p in which open columns are open and taken ones chosen; every other is left out. The number of
// barrels counted is within the box.
func (p *problem) take(open, taken []int, counts box) *part {
	s := &part{
		cols: open, taken: taken, rows: len(p.rows), n: len(open), group: make([]int, len(open)),
		taking: make([]bool, p.groups), members: p.members, takenCost: p.total(taken),
		coef: make([]int64, len(open)*len(p.rows)), cost: make([]int64, len(open)),
		low: make([]int64, len(p.rows)), high: make([]int64, len(p.rows)),
	}
	for i, j := range open {
		s.cost[i], s.group[i] = p.cost[j], p.group[j]
		for r := range p.rows {
			s.coef[i*s.rows+r] = p.rows[r].coef[j]
		}
	}
	for _, j := range taken {
		s.taking[p.group[j]] = true
	}
	for r := range p.rows {
		s.low[r], s.high[r] = p.rows[r].low, p.rows[r].high
	}
	for c, r := range p.counts {
		s.low[r], s.high[r] = counts.low[c], counts.high[c]
		if p.order.PartBarrel {
			// Counts are of whole barrels; the part comes on top.
			s.high[r]++
		}
	}
	for r := range p.rows {
		for _, j := range taken {
			s.low[r] = less(s.low[r], p.rows[r].coef[j])
			s.high[r] = less(s.high[r], p.rows[r].coef[j])
		}
	}
	s.scale()
	return s
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
