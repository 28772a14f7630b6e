package quantity

import (
	"errors"
	"fmt"
	"math"
	"strconv"
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
	v, err := strconv.ParseInt(whole+frac+strings.Repeat("0", digits-len(frac)), 10, 64)
	if err != nil {
		return fail(ErrRange)
	}
	if negative {
		v = -v
	}
	return v, nil
}

func allDigits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// FormatFixed writes v counts of 10^-digits as the shortest decimal string that has at least atLeast decimals.
func FormatFixed(v int64, digits, atLeast int) string {
	s := strconv.FormatUint(magnitude(v), 10)
	if len(s) <= digits {
		s = strings.Repeat("0", digits-len(s)+1) + s
	}
	point := len(s) - digits
	end := len(s)
	for end > point+atLeast && s[end-1] == '0' {
		end--
	}
	out := s[:point]
	if end > point {
		out += "." + s[point:end]
	}
	if v < 0 {
		out = "-" + out
	}
	return out
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
