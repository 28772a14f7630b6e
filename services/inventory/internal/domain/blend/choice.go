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
	tries := int64(listTried)
	out := make([][]choice, len(m.problems))
	for o, p := range m.problems {
		if sets(len(m.all), p.most(), listTried) > int(tries) {
			return nil
		}
		s := newSweep(p, m.all, tries, func(chosen []int) {
			out[o] = append(out[o], choice{p.total(chosen), slices.Clone(chosen)})
		})
		if !s.run() {
			return nil
		}
		tries = s.left
	}
	return out
}

// most is how many barrels the order can take at the most.
func (p *problem) most() int {
	lightest := int64(none)
	for _, b := range p.barrels {
		lightest = min(lightest, int64(b.Weight))
	}
	return int(int64(p.order.MaxWeight) / max(1, lightest))
}
