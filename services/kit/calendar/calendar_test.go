package calendar_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/calendar"
)

func TestDay_IsTheFirstMomentOfItsZone(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	for text, want := range map[string]string{"1900-01-01": "1900-01-01T06:00:00Z", "2024-02-29": "2024-02-29T06:00:00Z", "2026-07-01": "2026-07-01T05:00:00Z", "2199-12-31": "2199-12-31T06:00:00Z"} {
		day, err := calendar.Day(text, zone)
		require.NoError(t, err)
		require.Equal(t, want, day.UTC().Format(time.RFC3339))
	}
}

func TestDay_OfNoYearOfOursIsRefused(t *testing.T) {
	t.Parallel()
	for text, why := range map[string]string{
		"":           `"" is not a date such as 2026-07-01`,
		"2026-02-29": `"2026-02-29" is not a date such as 2026-07-01`,
		"2026-2-3":   `"2026-2-3" is not a date such as 2026-07-01`,
		"1.7.2026":   `"1.7.2026" is not a date such as 2026-07-01`,
		"0000-01-01": "0000-01-01 is not in the years 1900 to 2199",
		"0026-11-30": "0026-11-30 is not in the years 1900 to 2199",
		"1899-12-31": "1899-12-31 is not in the years 1900 to 2199",
		"2200-01-01": "2200-01-01 is not in the years 1900 to 2199",
		"9999-12-31": "9999-12-31 is not in the years 1900 to 2199",
	} {
		day, err := calendar.Day(text, time.UTC)
		require.EqualError(t, err, why)
		require.Zero(t, day)
	}
	_, err := calendar.Day(strings.Repeat("2026", 1000), time.UTC)
	require.Less(t, len(err.Error()), 100, "a page is not repeated to who sent it")
}
