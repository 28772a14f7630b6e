package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/settlement/internal/domain"
)

func TestDatesOfNoYearOfOurs(t *testing.T) {
	t.Parallel()
	for _, day := range []string{"1900-01-01", "2024-02-29", "2199-12-31"} {
		got, err := domain.ParseDate(day)
		require.NoError(t, err)
		require.Equal(t, domain.Date(day), got)
	}
	for day, why := range map[string]string{
		"2026-02-30": `"2026-02-30" is not a date such as 2026-07-01`,
		"0000-01-01": "0000-01-01 is not in the years 1900 to 2199",
		"0026-11-30": "0026-11-30 is not in the years 1900 to 2199",
		"1899-12-31": "1899-12-31 is not in the years 1900 to 2199",
		"2200-01-01": "2200-01-01 is not in the years 1900 to 2199",
		"9999-12-31": "9999-12-31 is not in the years 1900 to 2199",
	} {
		_, err := domain.ParseDate(day)
		require.EqualError(t, err, why)
	}
}
