// Package calendar reads the days people enter. Facts of a feed are read without its limits: what is recorded stays readable.
package calendar

import (
	"fmt"
	"time"
)

// Years a day of ours can fall in; outside them a digit was left out or typed twice. The limits are common practice, no source.
const firstYear, lastYear = 1900, 2199

// Day reads a day written year-month-day, as its first moment in a time zone. Messages are for people, without the name of the field.
func Day(text string, zone *time.Location) (time.Time, error) {
	day, err := time.ParseInLocation(time.DateOnly, text, zone)
	if err != nil {
		return time.Time{}, fmt.Errorf("%.40q is not a date such as 2026-07-01", text)
	}
	if day.Year() < firstYear || day.Year() > lastYear {
		return time.Time{}, fmt.Errorf("%s is not in the years %d to %d", text, firstYear, lastYear)
	}
	return day, nil
}
