package blend

import (
	"cmp"
	"encoding/binary"
	"hash/fnv"
	"slices"
)

// teamBarrels are offered to a team beside its own.
const teamBarrels = 60

// teamNodes is the work on an order of a team: the more orders there are, the more teams.
func (m *many) teamNodes() int64 { return max(200, 3000/int64(len(m.problems))) }

// discounts are the parts of the prices, in quarters, at which the first of a team take barrels from the last.
var discounts = [...]int64{4, 2, 6, 3, 1, 8}

// idlePasses is how many passes in a row may make nothing better: fewer while orders are left over, since prices by chance are
// for making a plan cheaper.
func (m *many) idlePasses() int {
	if m.cost == none {
		return 2 * len(discounts)
	}
	return 8 * len(discounts)
}

// teamWork is the work of all teams: all that is left, or less where the choices they see are combined afterwards.
func (m *many) teamWork() int64 {
	if m.quick {
		return m.nodes / 3
	}
	return m.nodes
}

// teams fills orders again together, over their own barrels and those nobody uses: by twos and threes, at other prices in every
// pass, until the work is used up or many passes made nothing better.
func (m *many) teams(work int64) {
	n, end := len(m.problems), m.nodes-work
	stale := 0
	for pass := 0; stale < m.idlePasses() && m.nodes > end && !m.done(); pass++ {
		better := false
		size := min(2+pass/len(discounts)%2, n)
		for off := 1; off < n; off++ {
			for a := range n {
				team := []int{a}
				for k := 1; k < size; k++ {
					if o := (a + k*off) % n; !slices.Contains(team, o) {
						team = append(team, o)
					}
				}
				if m.nodes <= end || m.done() {
					return
				}
				better = m.together(team, pass) || better
			}
		}
		if stale++; better {
			stale = 0
		}
	}
}

// together fills the orders of a team one after the other, all but the last at a part of the prices, and then each again at its
// own cost with what the others leave; true if that made the whole cheaper or filled more of them.
func (m *many) together(team []int, pass int) bool {
	offered := m.offer(team)
	prices := m.bids(offered, team[0], pass)
	trial := slices.Clone(m.best)
	for _, o := range team {
		trial[o] = nil
	}
	for k, o := range team {
		at := prices
		if k == len(team)-1 {
			at = nil
		}
		if trial[o] = m.order(trial, o, at, offered, m.teamNodes()); trial[o] == nil && m.best[o] != nil {
			return false
		}
	}
	for _, o := range team[:len(team)-1] {
		if again := m.order(trial, o, nil, offered, m.teamNodes()); again != nil {
			trial[o] = again
		}
	}
	return m.keep(trial)
}

// bids are the prices of barrels in a pass: parts of those that proved the bound in the first passes, and then by chance around
// them, up to a thousandth of the whole, which leads out of plans that no team makes better at the same prices again.
func (m *many) bids(offered []int, first, pass int) []int64 {
	prices := make([]int64, len(m.prices))
	quarters := discounts[pass%len(discounts)]
	for _, b := range offered {
		prices[b] = m.tight[b] / 4 * quarters
	}
	if pass < 2*len(discounts) || m.cost == none {
		return prices
	}
	most := abs(m.cost)/1000 + 1
	for _, b := range offered {
		n := chance(b, pass, first)
		prices[b] = prices[b]/4*int64(n%9) + int64(n>>32)%most
	}
	return prices
}

// chance is a number that nobody foresees and that is the same every time: the same question has the same plan.
func chance(of ...int) uint64 {
	h := fnv.New64a()
	for _, n := range of {
		_, _ = h.Write(binary.BigEndian.AppendUint64(nil, uint64(n))) //nolint:gosec // not negative; a hash takes everything
	}
	return h.Sum64()
}

// keep takes a plan if it fills more orders than the best, or as many at less cost.
func (m *many) keep(plan [][]int) bool {
	if filled(plan) < filled(m.best) || (filled(plan) == filled(m.best) && m.total(plan) >= m.total(m.best)) {
		return false
	}
	m.best = plan
	if filled(plan) == len(m.problems) {
		m.cost = m.total(plan)
	}
	return true
}

// offer are the barrels of some orders and those nobody uses that at the prices cost any of the orders least.
func (m *many) offer(orders []int) []int {
	var out, idle []int
	used := make([]bool, len(m.prices))
	for o, chosen := range m.best {
		for _, b := range chosen {
			used[b] = true
			if slices.Contains(orders, o) {
				out = append(out, b)
			}
		}
	}
	rank := make([]int64, len(m.prices))
	for b := range m.prices {
		if used[b] {
			continue
		}
		idle = append(idle, b)
		rank[b] = none
		for _, o := range orders {
			rank[b] = min(rank[b], m.dearer[o][b]-m.tight[b])
		}
	}
	slices.SortStableFunc(idle, func(a, b int) int { return cmp.Compare(rank[a], rank[b]) })
	out = append(out, idle[:min(len(idle), teamBarrels)]...)
	slices.Sort(out)
	return out
}
