package blend

import (
	"cmp"
	"slices"
)

// teamBarrels are offered to a team beside its own, and teamNodes is the work on one of its orders.
const (
	teamBarrels = 60
	teamNodes   = 600
)

// discounts are the parts of the prices, in quarters, at which the first of a team take barrels from the last.
var discounts = [...]int64{4, 2, 6, 3, 1, 8}

// teams fills orders again together, over their own barrels and those nobody uses: by twos and threes, at other prices in every
// pass, until the work is used up or no pass made the whole better.
func (m *many) teams() {
	n := len(m.problems)
	stale := 0
	for pass := 0; stale < 2*len(discounts) && m.nodes > 0 && !m.done(); pass++ {
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
				if m.nodes <= 0 || m.done() {
					return
				}
				better = m.together(team, discounts[pass%len(discounts)]) || better
			}
		}
		if stale++; better {
			stale = 0
		}
	}
}

// together fills the orders of a team one after the other, all but the last at a part of the prices, and then each again at its
// own cost with what the others leave; true if that made the whole cheaper or filled more of them.
func (m *many) together(team []int, quarters int64) bool {
	offered := m.offer(team)
	prices := make([]int64, len(m.prices))
	for _, b := range offered {
		prices[b] = m.tight[b] / 4 * quarters
	}
	trial := slices.Clone(m.best)
	for _, o := range team {
		trial[o] = nil
	}
	for k, o := range team {
		at := prices
		if k == len(team)-1 {
			at = nil
		}
		if trial[o] = m.order(trial, o, at, offered, teamNodes); trial[o] == nil && m.best[o] != nil {
			return false
		}
	}
	for _, o := range team[:len(team)-1] {
		if again := m.order(trial, o, nil, offered, teamNodes); again != nil {
			trial[o] = again
		}
	}
	return m.keep(trial)
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
