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

const (
	// listTried bounds the sets of barrels that are tried at first to list the choices of all orders, and listShare the part of the
	// work, one in so many, that goes into that.
	listTried, listShare = 4_000_000, 4
	// allTried bounds those tried where orders were not filled otherwise, and allFound the choices found.
	allTried, allFound = 120_000_000, 300_000
)

// list is every choice of every order where each takes so few barrels that all sets can be tried; nil elsewhere.
func (m *many) list(tries int64) [][]choice {
	out, found := make([][]choice, len(m.problems)), 0
	for o, p := range m.problems {
		if int64(sets(len(m.all), p.most(), int(tries))) > tries {
			return nil
		}
		s := newSweep(p, m.all, tries, nil)
		s.found = func(chosen []int) {
			if found++; found > allFound {
				s.left = 0
				return
			}
			out[o] = append(out[o], choice{p.total(chosen), slices.Clone(chosen)})
		}
		done := s.run()
		m.nodes -= (tries - s.left) / tried
		if !done || found > allFound {
			return nil
		}
		tries = s.left
	}
	return out
}

// fromAll decides from all choices whether there is a plan, and which is the cheapest; false where there are too many.
func (m *many) fromAll() bool {
	of := m.list(min(allTried, m.nodes*tried))
	if of == nil {
		return false
	}
	m.choose(of)
	return true
}

// most is how many barrels the order can take at the most.
func (p *problem) most() int {
	lightest := int64(none)
	for _, b := range p.barrels {
		lightest = min(lightest, int64(b.Weight))
	}
	return int(int64(p.order.MaxWeight) / max(1, lightest))
}
