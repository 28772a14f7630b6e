package label_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/label"
)

func TestALotIsBestByTheDayItWasStartedMonthsLater(t *testing.T) {
	t.Parallel()
	chicago, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	for _, c := range []struct {
		start  time.Time
		months int
		want   string
	}{
		{time.Date(2026, 9, 14, 9, 0, 0, 0, chicago), 24, "2028-09-14"},
		{time.Date(2026, 9, 14, 9, 0, 0, 0, chicago), 36, "2029-09-14"},
		{time.Date(2026, 8, 31, 9, 0, 0, 0, chicago), 1, "2026-09-30"},  // September has no 31st
		{time.Date(2026, 8, 31, 9, 0, 0, 0, chicago), 30, "2029-02-28"}, // nor has February
		{time.Date(2025, 8, 31, 9, 0, 0, 0, chicago), 30, "2028-02-29"}, // in a leap year it has a day more
		{time.Date(2024, 2, 29, 9, 0, 0, 0, chicago), 12, "2025-02-28"},
		{time.Date(2026, 12, 31, 23, 59, 0, 0, chicago), 60, "2031-12-31"},
		{time.Date(2027, 1, 1, 2, 0, 0, 0, time.UTC).In(chicago), 12, "2027-12-31"}, // still the old year where the house stands
		{time.Date(2026, 9, 14, 9, 0, 0, 0, chicago), 0, ""},
	} {
		require.Equal(t, c.want, label.Label{ShelfMonths: c.months}.BestBy(c.start), "%s and %d months", c.start, c.months)
	}
}

// No lot is said to keep into the month after that of its label, and only a day that month does not have is moved.
func TestABestByDayIsInTheMonthItsLabelSays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		start := time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 36_500).Draw(t, "day"))
		months := rapid.IntRange(1, 60).Draw(t, "months")
		day, err := time.Parse(time.DateOnly, label.Label{ShelfMonths: months}.BestBy(start))
		if err != nil {
			t.Fatal(err)
		}
		if passed := (day.Year()-start.Year())*12 + int(day.Month()-start.Month()); passed != months {
			t.Fatalf("%s and %d months: %s", start, months, day)
		}
		if next := day.AddDate(0, 0, 1); day.Day() != start.Day() && (day.Day() > start.Day() || next.Day() != 1) {
			t.Fatalf("%s and %d months: %s", start, months, day)
		}
	})
}

func TestALabelKeepsOneToSixtyMonthsOrSaysNothing(t *testing.T) {
	t.Parallel()
	for months, right := range map[int]bool{-1: false, 0: true, 1: true, 60: true, 61: false} {
		_, wrong := label.Label{ShelfMonths: months}.Check()["shelf_life_months"]
		require.Equal(t, right, !wrong, "%d", months)
	}
}
