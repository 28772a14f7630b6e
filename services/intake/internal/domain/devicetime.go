package domain

import "time"

// How far the clock of a dock that was offline is believed (common practice, no source): a queue is sent the same day, and
// clocks differ by minutes.
const (
	offlineMost = 24 * time.Hour
	clockSkew   = 5 * time.Minute
)

// DeviceTime is when something happened at a dock: what its own clock said, or now if it did not say.
func DeviceTime(field string, said, now time.Time) (time.Time, error) {
	if said.IsZero() {
		return now, nil
	}
	oldest, newest := now.Add(-offlineMost), now.Add(clockSkew)
	if said.Before(oldest) || said.After(newest) {
		return now, outOfRange(field, oldest.Format(time.RFC3339), newest.Format(time.RFC3339),
			"the device says %s, but it is %s now: only the last 24 hours can be sent afterwards, so check the device's clock",
			said.UTC().Format(time.RFC3339), now.Format(time.RFC3339))
	}
	return said.UTC().Truncate(time.Microsecond), nil
}
