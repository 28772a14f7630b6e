package blend

import (
	"math"
	"slices"
)

// box is a range for each count of a problem.
type box struct{ low, high []int64 }

// all is the box of every count there can be.
func (p *problem) all() box {
	b := box{make([]int64, len(p.counts)), make([]int64, len(p.counts))}
	for c := range p.counts {
		b.high[c] = int64(len(p.barrels))
	}
	return b
}

// with is the box with another range for count c.
func (b box) with(c int, low, high int64) box {
	out := box{slices.Clone(b.low), slices.Clone(b.high)}
	out.low[c], out.high[c] = low, high
	return out
}

// split divides a box at a count that is not whole in the relaxation, else at one that has a range left, into boxes with no
// plan in common; none when every count is decided.
func (b box) split(counts []float64) []box {
	c, most := -1, integral
	for i, v := range counts {
		if away := math.Abs(v - math.Round(v)); away > most && b.low[i] < b.high[i] {
			c, most = i, away
		}
	}
	if c >= 0 {
		k := min(max(int64(math.Floor(counts[c])), b.low[c]), b.high[c]-1)
		return []box{b.with(c, b.low[c], k), b.with(c, k+1, b.high[c])}
	}
	for i, v := range counts {
		if b.low[i] < b.high[i] {
			k := min(max(int64(math.Round(v)), b.low[i]), b.high[i])
			out := []box{b.with(i, k, k)}
			if b.low[i] < k {
				out = append(out, b.with(i, b.low[i], k-1))
			}
			if k < b.high[i] {
				out = append(out, b.with(i, k+1, b.high[i]))
			}
			return out
		}
	}
	return nil
}

// counted are the counts of the problem in the relaxation, with what is taken.
func (l *relaxation) counted(p *problem) []float64 {
	out := make([]float64, len(p.counts))
	for c, r := range p.counts {
		for _, j := range l.taken {
			out[c] += float64(p.rows[r].coef[j])
		}
		for i := range l.n {
			if l.where[i] == atHigh {
				out[c] += float64(l.coef[i*l.rows+r])
			}
		}
		for k, v := range l.head {
			if v < l.n {
				out[c] += float64(l.values[k] * float64(l.coef[v*l.rows+r]))
			}
		}
	}
	return out
}
