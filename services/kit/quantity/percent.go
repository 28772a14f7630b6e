package quantity

const percentDigits = 2

// Percent is a share in hundredths of a percent, e.g. a moisture of 18.65 %.
type Percent int64

// ParsePercent reads a decimal with at most two digits after the point and no percent sign. Errors are *ParseError.
func ParsePercent(s string) (Percent, error) {
	v, err := ParseFixed(s, percentDigits)
	return Percent(v), err
}

// String is the shortest decimal with at least one digit after the point, e.g. "18.6" or "18.65".
func (p Percent) String() string { return FormatFixed(int64(p), percentDigits, 1) }

// MarshalText is String.
func (p Percent) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText is ParsePercent.
func (p *Percent) UnmarshalText(text []byte) (err error) {
	*p, err = ParsePercent(string(text))
	return err
}

// Of is p percent of v, rounded once, half up and away from zero. It fails with ErrRange.
func (p Percent) Of(v int64) (int64, error) { return MulDiv(v, int64(p), 100_00) }
