package blend

import "math"

// starveRounds is how long it is tried to prove that the stock does not suffice.
const starveRounds = 400

// starves tries to prove that the stock does not suffice for all orders: prices at which even honey that costs nothing else costs
// the orders more together than all barrels. Only the proportions of such prices matter.
func (m *many) starves() bool {
	const level = 1 << 20
	nothing := make([]int64, len(m.prices))
	for b := range m.prices {
		m.prices[b], m.direction[b] = level, 0
	}
	for round := range starveRounds {
		usage, bound := m.relax(func(int) []int64 { return nothing }, false)
		if bound > 0 {
			return true
		}
		length := m.turn(usage)
		if length == 0 || bound == -none || m.nodes <= 0 {
			return false
		}
		step := level * math.Sqrt(float64(len(usage))/length/float64(4+round))
		for b, d := range m.direction {
			m.prices[b] = max(0, m.prices[b]+int64(float64(step*d)))
		}
	}
	return false
}
