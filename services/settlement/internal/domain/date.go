package domain

import (
	"fmt"
	"time"
)

// Date is a local date of the cooperative, "2026-09-14". Dates compare as strings.
type Date string

// Years a date of ours can fall in; outside them a digit was left out or typed twice. The limits are common practice, no source.
const earliestYear, latestYear = 1900, 2199

// ParseDate accepts a calendar date written year-month-day.
func ParseDate(s string) (Date, error) {
	day, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return "", fmt.Errorf("%.40q is not a date such as 2026-07-01", s)
	}
	if day.Year() < earliestYear || day.Year() > latestYear {
		return "", fmt.Errorf("%s is not in the years %d to %d", s, earliestYear, latestYear)
	}
	return Date(s), nil
}
