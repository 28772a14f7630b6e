package domain

import (
	"time"

	"barrelhead.example/services/kit/calendar"
)

// Date is a local date of the cooperative, "2026-09-14". Dates compare as strings.
type Date string

// ParseDate accepts a calendar date written year-month-day.
func ParseDate(s string) (Date, error) {
	if _, err := calendar.Day(s, time.UTC); err != nil {
		return "", err //nolint:wrapcheck // says what is wrong
	}
	return Date(s), nil
}
