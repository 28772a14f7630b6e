package domain

import "time"

// WeigherLine counts what one person weighed.
type WeigherLine struct {
	Weigher    string
	Barrels    int64
	Manual     int64
	Overridden int64
	// Captured rest on a weight taken from the scale; Offline were neither that nor typed.
	Captured int64
	Offline  int64
}

// Span is a stretch of time, its end not included.
type Span struct{ From, Until time.Time }

// DaysBetween is the span of two local dates, both included.
func DaysBetween(from, to string, zone *time.Location) (Span, error) {
	first, err := time.ParseInLocation(time.DateOnly, from, zone)
	if err != nil {
		return Span{}, invalid("from_date", "%q is not a date such as 2026-09-14", from)
	}
	last, err := time.ParseInLocation(time.DateOnly, to, zone)
	if err != nil {
		return Span{}, invalid("to_date", "%q is not a date such as 2026-09-14", to)
	}
	if last.Before(first) {
		return Span{}, invalid("to_date", "%s is before %s: swap the dates", to, from)
	}
	return Span{first, last.AddDate(0, 0, 1)}, nil
}
