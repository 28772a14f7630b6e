package blend

import "math"

// candidate is a variable whose reduced cost becomes zero after a step along the dual ray.
type candidate struct {
	step  float64
	turn  float64 // magnitude in the pivot row
	width float64 // what one flip takes off the gain, per unit of turn
	v     int
}

// offer queues v if the ray brings its reduced cost to zero; turn is its entry in the pivot row, in the ray's direction.
func (l *relaxation) offer(v int, turn, width float64) {
	if math.Abs(turn) < tinyTurn || width == 0 || (l.where[v] == atLow) != (turn < 0) {
		return
	}
	step := math.Max(0, math.Abs(l.reduced[v])) / math.Abs(turn)
	l.queue = append(l.queue, candidate{step, math.Abs(turn), width, v})
}

// stop takes candidates in the order of their steps until the gain is used up. The last one taken enters even if the gain
// ends exactly at zero: a ray that stops gaining is not one that gains for ever.
func (l *relaxation) stop(gain float64) (int, bool) {
	q := l.queue
	for i := len(q)/2 - 1; i >= 0; i-- {
		sink(q, i)
	}
	last := -1
	for len(q) > 0 {
		c := q[0]
		last = c.v
		gain -= c.turn * c.width
		if gain <= feasible {
			return best(q, c), true
		}
		q[0] = q[len(q)-1]
		q = q[:len(q)-1]
		sink(q, 0)
	}
	return last, last >= 0 && gain <= feasible
}

// best prefers, among candidates that stop at practically the same step, the largest turn: dividing by it is safest.
func best(q []candidate, c candidate) int {
	for _, o := range q {
		if o.step <= c.step+tinyStep && (o.turn > c.turn || (o.turn == c.turn && o.v < c.v)) {
			c = o
		}
	}
	return c.v
}

// sink restores the order of a heap with the smallest step on top; ties go to the lower column, which is the lower id.
func sink(q []candidate, i int) {
	for {
		least := i
		for _, k := range [2]int{2*i + 1, 2*i + 2} {
			if k < len(q) && (q[k].step < q[least].step || (q[k].step == q[least].step && q[k].v < q[least].v)) {
				least = k
			}
		}
		if least == i {
			return
		}
		q[i], q[least] = q[least], q[i]
		i = least
	}
}
