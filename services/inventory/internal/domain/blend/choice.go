package blend

import (
	"encoding/binary"
	"slices"
)

// choice is some barrels that fill an order by themselves, in rising order.
type choice struct {
	cost    int64
	barrels []int
}

// choices are those known of each order, none twice.
type choices struct {
	problems []*problem
	of       [][]choice
	known    []map[string]bool
}

func newChoices(problems []*problem) *choices {
	c := &choices{problems, make([][]choice, len(problems)), make([]map[string]bool, len(problems))}
	for o := range problems {
		c.known[o] = map[string]bool{}
	}
	return c
}

// add notes a choice of an order, in any order.
func (c *choices) add(o int, barrels []int) {
	sorted := slices.Clone(barrels)
	slices.Sort(sorted)
	var key []byte
	for _, b := range sorted {
		key = binary.AppendUvarint(key, uint64(b)) //nolint:gosec // not negative
	}
	if c.known[o][string(key)] {
		return
	}
	c.known[o][string(key)] = true
	c.of[o] = append(c.of[o], choice{c.problems[o].total(sorted), sorted})
}

// listTried bounds the sets of barrels that are tried to list the choices of all orders.
const listTried = 4_000_000

// list is every choice of every order where each takes so few barrels that all sets can be tried; nil elsewhere.
func (m *many) list() [][]choice {
	tries := listTried
	out := make([][]choice, len(m.problems))
	for o, p := range m.problems {
		l := lister{p: p, tries: tries}
		if !l.few() {
			return nil
		}
		l.add(0, nil, 0)
		if tries = l.tries; tries < 0 {
			return nil
		}
		out[o] = l.found
	}
	return out
}

// lister lists the choices of one order.
type lister struct {
	p     *problem
	tries int
	found []choice
}

// few reports whether listing is worth beginning: as many barrels as may go in make few sets.
func (l *lister) few() bool {
	lightest := int64(none)
	for _, b := range l.p.barrels {
		lightest = min(lightest, int64(b.Weight))
	}
	sets, n := 1, len(l.p.barrels)
	for k := range int(int64(l.p.order.MaxWeight) / max(1, lightest)) {
		if sets = sets * max(1, n-k) / (k + 1); sets > l.tries {
			return false
		}
	}
	return true
}

// add tries the chosen barrels and all sets that have them and some of the barrels from one on.
func (l *lister) add(from int, chosen []int, weight int64) {
	if l.tries--; l.tries < 0 {
		return
	}
	if weight >= int64(l.p.order.MinWeight) && l.p.fits(chosen) {
		l.found = append(l.found, choice{l.p.total(chosen), slices.Clone(chosen)})
	}
	for j := from; j < len(l.p.barrels); j++ {
		if w := weight + int64(l.p.barrels[j].Weight); w <= int64(l.p.order.MaxWeight) {
			l.add(j+1, append(chosen, j), w)
		}
	}
}
