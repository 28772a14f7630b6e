package quantity

import "fmt"

const priceDigits = 6

// One step of Price (10^-6) times one step of Mass (10^-3) is 10^-9 of the currency; a minor unit is 10^-2 of it.
const priceMassPerMinorUnit = 10_000_000

// Price is money per unit of mass, in millionths of the currency.
type Price int64

// ParsePrice reads a decimal with at most six digits after the point. Errors are *ParseError.
func ParsePrice(s string) (Price, error) {
	v, err := ParseFixed(s, priceDigits)
	return Price(v), err
}

// String is the shortest decimal with at least two digits after the point, e.g. "1.90" or "1.89333".
func (p Price) String() string { return FormatFixed(int64(p), priceDigits, 2) }

// MarshalText is String.
func (p Price) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText is ParsePrice.
func (p *Price) UnmarshalText(text []byte) (err error) {
	*p, err = ParsePrice(string(text))
	return err
}

// Times is what a mass is worth at this price, rounded once to the minor unit, half up and away from zero, so that a
// reversal is exactly the negative of what it reverses. It fails with ErrRange.
func (p Price) Times(m Mass) (Money, error) {
	v, err := MulDiv(int64(p), int64(m), priceMassPerMinorUnit)
	if err != nil {
		return 0, fmt.Errorf("price %v × mass %v: %w", p, m, err)
	}
	return Money(v), nil
}
