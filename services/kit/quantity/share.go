package quantity

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrNoWeights is a total that nobody may take a share of: no weights, or all of them zero.
var ErrNoWeights = errors.New("there is nothing to share by: every weight is zero")

// ErrNegativeWeight is a share by less than nothing.
var ErrNegativeWeight = errors.New("a weight is negative")

// Portion is one share of a fixed total.
type Portion[T ~int64] struct {
	Amount T
	// Odd is true where the share was rounded away from zero, so that a statement can say who got the odd cent.
	Odd bool
}

// Portions divides total in proportion to weights by largest remainder: every share is first rounded towards zero, then
// what is left goes, one unit each, to the largest remainders and among equals to the lower index. The shares sum to total
// exactly and those of -total are the negatives of those of total. It fails with ErrNoWeights, ErrNegativeWeight, or
// ErrRange when the weights sum to more than an int64.
func Portions[T ~int64](total T, weights []int64) ([]Portion[T], error) {
	sum, err := sumWeights(weights)
	if err != nil {
		return nil, fmt.Errorf("share %d: %w", int64(total), err)
	}
	if int64(total) == math.MinInt64 {
		return nil, fmt.Errorf("share %d: the total %w", int64(total), ErrRange)
	}
	portions := make([]Portion[T], len(weights))
	remainders := make([]uint64, len(weights))
	left := magnitude(int64(total))
	for i, w := range weights {
		floor, rem, err := mulDivFloor(magnitude(int64(total)), magnitude(w), sum)
		if err != nil {
			return nil, fmt.Errorf("share %d by weight %d of %d: %w", int64(total), w, sum, err)
		}
		portions[i].Amount, remainders[i] = T(floor), rem
		left -= floor
	}
	for _, i := range largestFirst(remainders)[:left] {
		portions[i].Amount++
		portions[i].Odd = true
	}
	if total < 0 {
		for i := range portions {
			portions[i].Amount = -portions[i].Amount
		}
	}
	return portions, nil
}

// Share is Portions without the note of who got the odd unit.
func Share[T ~int64](total T, weights []int64) ([]T, error) {
	portions, err := Portions(total, weights)
	if err != nil {
		return nil, err
	}
	shares := make([]T, len(portions))
	for i, p := range portions {
		shares[i] = p.Amount
	}
	return shares, nil
}

func sumWeights(weights []int64) (uint64, error) {
	for _, w := range weights {
		if w < 0 {
			return 0, fmt.Errorf("%w: %d", ErrNegativeWeight, w)
		}
	}
	sum, err := Sum(weights...)
	if err != nil {
		return 0, err
	}
	if sum == 0 {
		return 0, ErrNoWeights
	}
	return magnitude(sum), nil
}

// largestFirst gives the indices of v by falling value, equal values in their own order.
func largestFirst(v []uint64) []int {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case v[a] > v[b]:
			return -1
		case v[a] < v[b]:
			return 1
		default:
			return 0
		}
	})
	return order
}
