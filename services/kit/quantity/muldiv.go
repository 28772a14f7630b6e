package quantity

import (
	"errors"
	"fmt"
	"math/bits"
)

// ErrDivideByZero is a division by nothing, such as an average over no barrels.
var ErrDivideByZero = errors.New("division by zero")

// MulDiv is a*b/c with the product held in 128 bits, rounded once, half up and away from zero. It fails with
// ErrDivideByZero, or with ErrRange when the result does not fit: the range is that of ParseFixed.
func MulDiv(a, b, c int64) (int64, error) {
	if c == 0 {
		return 0, fmt.Errorf("%d × %d / 0: %w", a, b, ErrDivideByZero)
	}
	quo, rem, err := mulDivFloor(magnitude(a), magnitude(b), magnitude(c))
	if err != nil {
		return 0, fmt.Errorf("%d × %d / %d %w", a, b, c, err)
	}
	// rem >= c-rem rather than 2*rem >= c: the double could overflow.
	if rem >= magnitude(c)-rem {
		quo++
	}
	v, err := signed(quo, (a < 0) != (b < 0) != (c < 0))
	if err != nil {
		return 0, fmt.Errorf("%d × %d / %d %w", a, b, c, err)
	}
	return v, nil
}

// mulDivFloor is a*b/c rounded down, and the remainder. bits.Div64 panics on overflow, hence the look at the high word.
func mulDivFloor(a, b, c uint64) (quo, rem uint64, err error) {
	hi, lo := bits.Mul64(a, b)
	if hi >= c {
		return 0, 0, ErrRange
	}
	quo, rem = bits.Div64(hi, lo, c)
	return quo, rem, nil
}

// Sum adds exactly and fails with ErrRange instead of wrapping round.
func Sum[T ~int64](values ...T) (T, error) {
	var total T
	for _, v := range values {
		next := total + v
		if (next > total) != (v > 0) && v != 0 {
			return 0, fmt.Errorf("the sum of %d numbers %w", len(values), ErrRange)
		}
		total = next
	}
	return total, nil
}
