package domain

import (
	"fmt"
	"strings"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// Issue is a statement that was put on paper. It is superseded by the next one of its crop year.
type Issue struct {
	Member   string
	CropYear int
	// Serial counts from 1.
	Serial  int
	Code    string
	Balance quantity.Money
	Time    time.Time
}

// Number is as printed, e.g. "M-0001/2026/2".
func (i Issue) Number() string {
	return fmt.Sprintf("%s/%d/%d", strings.TrimPrefix(i.Member, "members/"), i.CropYear, i.Serial)
}

// Before is the number of the one it replaces; empty for the first.
func (i Issue) Before() string {
	if i.Serial == 1 {
		return ""
	}
	i.Serial--
	return i.Number()
}
