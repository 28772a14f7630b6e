package quantity

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// What can be wrong with a decimal string; a *ParseError wraps one of them.
var (
	// ErrSyntax is a string that is not a plain decimal number such as "-12.5".
	ErrSyntax = errors.New("is not a plain decimal number such as 12.5")
	// ErrDigits is a number with more digits after the point than the type holds.
	ErrDigits = errors.New("has too many digits after the point")
	// ErrRange is a number, or a result, that is too large for the type.
	ErrRange = errors.New("is too large")
)

// ParseError says which decimal string was refused and why. It wraps ErrSyntax, ErrDigits or ErrRange.
type ParseError struct {
	Input  string
	Digits int
	Err    error
}

// Error repeats the number, because the reader of the message typed it.
func (e *ParseError) Error() string {
	switch {
	case e.Input == "":
		return "the number is missing"
	case errors.Is(e.Err, ErrDigits):
		return fmt.Sprintf("%.40q has more than %d digits after the point", e.Input, e.Digits)
	default:
		return fmt.Sprintf("%.40q %v", e.Input, e.Err)
	}
}

// Unwrap gives the kind of fault.
func (e *ParseError) Unwrap() error { return e.Err }

// ParseFixed reads a plain decimal string ("642.5", "-3", no plus sign, no exponent, no bare point) as an integer count of
// 10^-digits. It fails with a *ParseError when the string has more than digits decimals, trailing zeros included, or when
// the magnitude exceeds the largest int64: the range is symmetric, so that every number has a negative.
func ParseFixed(s string, digits int) (int64, error) {
	fail := func(err error) (int64, error) { return 0, &ParseError{Input: s, Digits: digits, Err: err} }
	unsigned, negative := strings.CutPrefix(s, "-")
	whole, frac, pointed := strings.Cut(unsigned, ".")
	if !allDigits(whole) || (pointed && !allDigits(frac)) {
		return fail(ErrSyntax)
	}
	if len(frac) > digits {
		return fail(ErrDigits)
	}
	v, fits := appendDigits(0, whole)
	if fits {
		v, fits = appendDigits(v, frac)
	}
	for i := len(frac); i < digits && fits; i++ {
		v, fits = appendDigits(v, "0")
	}
	if !fits {
		return fail(ErrRange)
	}
	if negative {
		v = -v
	}
	return v, nil
}

// appendDigits writes digits behind v and reports whether the result fits.
func appendDigits(v int64, digits string) (int64, bool) {
	for i := range len(digits) {
		d := int64(digits[i] - '0')
		if v > (math.MaxInt64-d)/10 {
			return 0, false
		}
		v = v*10 + d
	}
	return v, true
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// FormatFixed writes v counts of 10^-digits as the shortest decimal string that has at least atLeast decimals.
func FormatFixed(v int64, digits, atLeast int) string {
	var room [64]byte
	return string(AppendFixed(room[:0], v, digits, atLeast))
}

// AppendFixed appends what FormatFixed gives. digits is at most 18, as many as an int64 holds.
func AppendFixed(to []byte, v int64, digits, atLeast int) []byte {
	var room [20]byte
	first := len(room)
	// One digit at least stands before the point.
	for left := magnitude(v); left > 0 || first >= len(room)-digits; left /= 10 {
		first--
		room[first] = byte('0' + left%10)
	}
	if v < 0 {
		to = append(to, '-')
	}
	point, end := len(room)-digits, len(room)
	for end > point+atLeast && room[end-1] == '0' {
		end--
	}
	to = append(to, room[first:point]...)
	if end > point {
		to = append(append(to, '.'), room[point:end]...)
	}
	return to
}

// magnitude is the absolute value; it is unsigned because the most negative int64 has no positive counterpart.
func magnitude(v int64) uint64 {
	if v < 0 {
		return -uint64(v) //nolint:gosec // negating in two's complement is what is wanted
	}
	return uint64(v)
}

func signed(m uint64, negative bool) (int64, error) {
	if m > math.MaxInt64 {
		return 0, ErrRange
	}
	if negative {
		return -int64(m), nil
	}
	return int64(m), nil
}
