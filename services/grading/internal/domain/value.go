package domain

import "barrelhead.example/services/kit/quantity"

// valueDigits is one more than any limit or reported value in use needs, so that a value before rounding can be shown.
const valueDigits = 4

// Value is a measured or reported number in ten-thousandths of its factor's unit: 18.6 % water is 186000.
type Value int64

const (
	one       Value = 10_000
	tenth           = one / 10
	hundredth       = one / 100
)

// ParseValue reads a plain decimal with at most four digits after the point. Errors are *quantity.ParseError.
func ParseValue(s string) (Value, error) {
	v, err := quantity.ParseFixed(s, valueDigits)
	return Value(v), err
}

// Format writes the shortest decimal with at least atLeast digits after the point.
func (v Value) Format(atLeast int) string {
	return quantity.FormatFixed(int64(v), valueDigits, atLeast)
}

// roundHalfUp rounds once, half up, to a multiple of step. A value that was cut, not rounded, to four digits gives the
// same answer as the exact one, because the cut never crosses a half. Only values from zero up reach it.
func (v Value) roundHalfUp(step Value) Value { return (v + step/2) / step * step }
