package lots_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/checkdigit"
)

func TestAPalletCodeIsReadBackAndNeverADrums(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, number := range []int64{1, 2, 12345678, 99999999} {
		code, err := lots.PalletCode("06141410", number)
		require.NoError(t, err)
		require.Len(t, code, 18)
		require.NoError(t, checkdigit.ValidGS1(code))
		require.Equal(t, "906141410", code[:9])
		require.False(t, seen[code])
		seen[code] = true
	}
	_, err := lots.PalletCode("06141410", 100000000)
	require.ErrorContains(t, err, "used up")
	none, err := lots.PalletCode("", 1)
	require.NoError(t, err)
	require.Empty(t, none)
	require.Equal(t, "7", lots.Pallet{Number: 7}.Called(), "a house without a prefix counts its pallets")
	require.Equal(t, "906141410000000019", lots.Pallet{Number: 7, SSCC: "906141410000000019"}.Called())
}

func TestOnlyLooseJarsOfAClosedFreeLotAreStacked(t *testing.T) {
	t.Parallel()
	r := lots.Run{ID: uuid.New(), Code: "FC26258T1015", Closed: true, OnHand: 1_200}
	require.NoError(t, r.Stack(40, 40))
	require.ErrorContains(t, r.Stack(1_041, 40), "lot FC26258T1015 has 40 jars on no pallet, of 1,200 on hand: 1,041 cannot be taken")
	open := r
	open.Closed = false
	require.ErrorContains(t, open.Stack(1, 40), "lot FC26258T1015 is still being filled")
	_, err := r.Take(1_201)
	require.EqualError(t, err, "lot FC26258T1015 has 1,200 jars on hand, 1,201 cannot be shipped")
	r.Holds = []stock.Hold{{Code: stock.Recall, Reason: "glass", Placer: "users/wh1"}}
	require.ErrorContains(t, r.Stack(1, 40), "cannot be stacked on a pallet")
}

func TestAPalletLeavesOnce(t *testing.T) {
	t.Parallel()
	p := lots.Pallet{ID: uuid.New(), SSCC: "906141410000000018"}
	require.NoError(t, p.InHouse("shipped"))
	p.Shipment = uuid.New()
	require.ErrorContains(t, p.InHouse("shipped"), "pallet 906141410000000018 is shipped and cannot be shipped")
	p = lots.Pallet{ID: uuid.New(), Breaker: "users/line1"}
	require.ErrorContains(t, p.InHouse("shipped"), "is taken apart")
}
