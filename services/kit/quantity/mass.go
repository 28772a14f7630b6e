package quantity

import (
	"fmt"
	"strings"
)

const massDigits = 3

// Mass is a weight in thousandths of the cooperative's unit, a pound or a kilogram by deployment. Negative masses are
// corrections and losses.
type Mass int64

// ParseMass reads a decimal with at most three digits after the point. Errors are *ParseError.
func ParseMass(s string) (Mass, error) {
	v, err := ParseFixed(s, massDigits)
	return Mass(v), err
}

// String is the shortest decimal with at least one digit after the point, e.g. "642.5".
func (m Mass) String() string { return FormatFixed(int64(m), massDigits, 1) }

// Append appends what String gives.
func (m Mass) Append(to []byte) []byte { return AppendFixed(to, int64(m), massDigits, 1) }

// MarshalText is String, so that JSON and YAML carry the decimal and never the count of thousandths.
func (m Mass) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText is ParseMass.
func (m *Mass) UnmarshalText(text []byte) (err error) {
	*m, err = ParseMass(string(text))
	return err
}

// Unit is a unit of mass: LB, the avoirdupois pound, or KG, the kilogram.
type Unit string

// The two units a deployment may work in.
const (
	LB Unit = "LB"
	KG Unit = "KG"
)

// Word is the unit as people write it: "lb" or "kg".
func (u Unit) Word() string { return strings.ToLower(string(u)) }

// ParseUnit accepts "LB" and "KG" as written.
func ParseUnit(s string) (Unit, error) {
	switch u := Unit(s); u {
	case LB, KG:
		return u, nil
	default:
		return "", fmt.Errorf("unit %q is unknown: use LB or KG", s)
	}
}

// A pound is exactly 0.45359237 kg: 16 CFR 500.19; NIST Handbook 44, Appendix C.
const (
	poundNumerator   = 45_359_237
	poundDenominator = 100_000_000
)

// ConvertMass gives m in another unit, rounded once, half up, to a thousandth. The factor is exact. It panics on a unit
// that ParseUnit would refuse and on a mass above 4 × 10^15 units, both of which are checked where a number enters.
func ConvertMass(m Mass, from, to Unit) Mass {
	var v int64
	var err error
	switch {
	case from == LB && to == KG:
		v, err = MulDiv(int64(m), poundNumerator, poundDenominator)
	case from == KG && to == LB:
		v, err = MulDiv(int64(m), poundDenominator, poundNumerator)
	case from == to && (from == LB || from == KG):
		v = int64(m)
	default:
		err = fmt.Errorf("from unit %q to unit %q is unknown", from, to)
	}
	if err != nil {
		panic(fmt.Errorf("convert mass: %w", err))
	}
	return Mass(v)
}
