package quantity

const moneyDigits = 2

// Money is an amount in minor units of the cooperative's currency, e.g. cents. Negative amounts are deductions and
// reversals.
type Money int64

// ParseMoney reads a decimal with at most two digits after the point. Errors are *ParseError.
func ParseMoney(s string) (Money, error) {
	v, err := ParseFixed(s, moneyDigits)
	return Money(v), err
}

// String always has two decimals, e.g. "1521.84".
func (m Money) String() string { return FormatFixed(int64(m), moneyDigits, moneyDigits) }

// Append appends what String gives.
func (m Money) Append(to []byte) []byte { return AppendFixed(to, int64(m), moneyDigits, moneyDigits) }

// MarshalText is String.
func (m Money) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText is ParseMoney.
func (m *Money) UnmarshalText(text []byte) (err error) {
	*m, err = ParseMoney(string(text))
	return err
}
