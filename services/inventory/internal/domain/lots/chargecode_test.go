package lots_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/lots"
)

func TestAChargeCodeIsOneTanksAndYearsOnly(t *testing.T) {
	t.Parallel()
	day := time.Date(2026, 9, 14, 0, 0, 0, 0, time.UTC)
	require.Equal(t, "T1-26-003", lots.ChargeCode("T1", day, 3))
	require.Equal(t, "T1-05-999", lots.ChargeCode("T1", day.AddDate(-21, 0, 0), 999))
	require.Equal(t, "T1-26-1000", lots.ChargeCode("T1", day, 1000), "a busy tank says one digit more")
	seen := map[string]bool{}
	for _, tank := range []string{"T1", "T1-26", "T1-26-001", "T", "1", "-", "T1-"} {
		for _, year := range []int{0, 1, 10} {
			for _, n := range []int{1, 26, 100, 1000, 26001} {
				code := lots.ChargeCode(tank, day.AddDate(year, 0, 0), n)
				require.False(t, seen[code], code)
				seen[code] = true
			}
		}
	}
}
