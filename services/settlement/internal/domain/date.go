package domain

import (
	"fmt"
	"time"
)

// Date is a local date of the cooperative, "2026-09-14". Dates compare as strings.
type Date string

// ParseDate accepts a calendar date written year-month-day.
func ParseDate(s string) (Date, error) {
	if _, err := time.Parse(time.DateOnly, s); err != nil {
		return "", fmt.Errorf("%.40q is not a date such as 2026-07-01", s)
	}
	return Date(s), nil
}
