package blend

import (
	"math"
	"slices"
)

// region is some of the plans of a problem: those of its open columns beside the taken ones that keep its rows.
type region struct {
	open, taken []int
	// rows are those of the problem, their bounds perhaps narrower, and rows of its own.
	rows []row
	in   []bool // by member: known to be in
}

// whole is the region of all plans of some columns beside others that are used in any case.
func (p *problem) whole(open, taken []int) region {
	in := make([]bool, p.groups)
	for _, j := range taken {
		in[p.group[j]] = true
	}
	return region{open: open, taken: taken, rows: p.rows, in: in}
}

// within is the region with other bounds of one row.
func (g region) within(r int, low, high int64) region {
	g.rows = slices.Clone(g.rows)
	g.rows[r].low, g.rows[r].high = low, high
	return g
}

// along is the region with one more row.
func (g region) along(r row, low, high int64) region {
	r.low, r.high = low, high
	g.rows = append(slices.Clone(g.rows), r)
	return g
}

// deciding leaves out a column, or takes it.
func (g region) deciding(column int, taken bool, p *problem) region {
	g.open = slices.DeleteFunc(slices.Clone(g.open), func(j int) bool { return j == column })
	if taken {
		g.taken = append(slices.Clone(g.taken), column)
		slices.Sort(g.taken)
		g.in = slices.Clone(g.in)
		g.in[p.group[column]] = true
	}
	return g
}

// admitting is the region in which a member is known to be in, or left out with all its barrels.
func (g region) admitting(member int, in bool, p *problem) region {
	if !in {
		g.open = slices.DeleteFunc(slices.Clone(g.open), func(j int) bool { return p.group[j] == member })
		return g
	}
	g.in = slices.Clone(g.in)
	g.in[member] = true
	return g.closed(p)
}

// closed leaves out the barrels of everybody else once as many members are in as may be.
func (g region) closed(p *problem) region {
	if p.members == 0 || members(g.in) < p.members {
		return g
	}
	g.open = slices.DeleteFunc(slices.Clone(g.open), func(j int) bool { return !g.in[p.group[j]] })
	return g
}

func members(in []bool) (n int64) {
	for _, is := range in {
		n += boolean(is)
	}
	return n
}

// split divides a region at a count that is not whole in the relaxation, else at one that has a range left, into regions
// with no plan in common; none when every count is decided.
func (g region) split(p *problem, l *relaxation) []region {
	counts := l.counted(p)
	c, most := -1, integral
	for i, r := range p.counts {
		if away := math.Abs(counts[i] - math.Round(counts[i])); away > most && g.rows[r].low < g.rows[r].high {
			c, most = i, away
		}
	}
	if c >= 0 {
		r := p.counts[c]
		low, high := g.rows[r].low, g.rows[r].high
		k := min(max(int64(math.Floor(counts[c])), low), high-1)
		return []region{g.within(r, low, k), g.within(r, k+1, high)}
	}
	for i, r := range p.counts {
		low, high := g.rows[r].low, g.rows[r].high
		if low == high {
			continue
		}
		k := min(max(int64(math.Round(counts[i])), low), high)
		out := []region{g.within(r, k, k)}
		if low < k {
			out = append(out, g.within(r, low, k-1))
		}
		if k < high {
			out = append(out, g.within(r, k+1, high))
		}
		return out
	}
	return nil
}

// counted are the counts of the problem in the relaxation, with what is taken.
func (l *relaxation) counted(p *problem) []float64 {
	x := l.solution()
	out := make([]float64, len(p.counts))
	for c, r := range p.counts {
		for _, j := range l.taken {
			out[c] += float64(p.rows[r].coef[j])
		}
		for i, v := range x {
			if p.rows[r].coef[l.cols[i]] != 0 {
				out[c] += v
			}
		}
	}
	return out
}

// solution is the value of each column.
func (l *relaxation) solution() []float64 {
	x := make([]float64, l.n)
	for i := range x {
		if l.where[i] == atHigh {
			x[i] = 1
		}
	}
	for k, v := range l.head {
		if v < l.n {
			x[v] = l.values[k]
		}
	}
	return x
}
