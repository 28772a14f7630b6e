package quantity

import (
	"strconv"
	"strings"
)

// Say is a mass as people write it, with its thousands apart and its unit: "1,200.0 lb". Metadata and fields of the wire take
// String instead. Without a unit it is the number alone.
func (m Mass) Say(u Unit) string {
	if u == "" {
		return Grouped(m.String())
	}
	return Grouped(m.String()) + " " + u.Word()
}

// Count is a number of things as people write it: "1 jar", "1,200 jars". one is the word for one of them.
func Count(n int64, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return Whole(n) + " " + one + "s"
}

// Whole is a whole number with its thousands apart: "1,200".
func Whole(n int64) string { return Grouped(strconv.FormatInt(n, 10)) }

// Grouped puts a comma before each third digit of the whole part of a decimal.
func Grouped(decimal string) string {
	unsigned, negative := strings.CutPrefix(decimal, "-")
	whole, frac, pointed := strings.Cut(unsigned, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if pointed {
		whole += "." + frac
	}
	if negative {
		return "-" + whole
	}
	return whole
}
