package domain_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

func TestAnEstimateRoundsDownToATenth(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		credited, value quantity.Money
		percent         string
	}{
		{0, 1, "0.0"},
		{999, 1000, "99.9"},
		{99_999, 100_000, "99.9"},
		{2, 3, "66.6"},
		{1000, 1000, "100.0"},
		{1501, 1000, "150.1"},
		{-1, 1000, "-0.1"},
		{9_000_000_000_000_000_000, 9_000_000_000_000_000_000, "100.0"},
	} {
		require.Equal(t, c.percent, domain.Estimate{Credited: c.credited, Value: c.value}.Percent())
	}
}

func TestAnEstimateIsOfWhatStands(t *testing.T) {
	t.Parallel()
	s := schedule(t)
	s.Moisture.Step = price(t, "0.01")
	a := advance(t, s, barrel(t, "640.0", "clover"), certificate(t, "19.0", "WHITE", "A"))
	paid, err := domain.NewProgress([]*domain.Payout{a}, &domain.ProgressPayment{ID: uuid.New(), Rate: price(t, "0.10")}, pounds, noon)
	require.NoError(t, err)
	prices := domain.NewClosedPool(uuid.New(), "R-2026-01", "Table honey", []domain.PriceRow{
		{ColorClass: "WHITE", Grade: "A", Advance: price(t, "1.50")}, {ColorClass: "LIGHT_AMBER", Grade: "A"},
	})
	all := []*domain.Payout{a, paid[0]}
	estimate := func(payouts []*domain.Payout, scope domain.Scope) (domain.Estimate, bool) {
		e, found, err := prices.Estimate(payouts, scope)
		require.NoError(t, err)
		return e, found
	}
	scope := domain.Scope{CropYear: 2026}
	// 640.0 × 81.0 ÷ 81.4 = 636.9 lb (half up): 955.35 at 1.50, less 4 tenths of a percent at 0.01; 732.44 less 25.48, and 63.69.
	e, found := estimate(all, scope)
	require.True(t, found)
	require.Equal(t, domain.Estimate{Credited: 770_65, Value: 929_87}, e)
	require.Equal(t, "82.8", e.Percent())

	_, found = estimate(all, domain.Scope{CropYear: 2025})
	require.False(t, found, "honey of another pool")
	back, err := a.Reverse("ticket void", pounds, noon)
	require.NoError(t, err)
	gone, err := paid[0].Reverse("ticket void", pounds, noon)
	require.NoError(t, err)
	_, found = estimate([]*domain.Payout{a, paid[0], gone, back}, scope)
	require.False(t, found, "what was taken back")
	final, err := domain.NewFinals([]*domain.Payout{a}, prices, 0, pounds, noon)
	require.NoError(t, err)
	_, found = estimate([]*domain.Payout{a, final[0]}, scope)
	require.False(t, found, "what another pool has closed")
	for _, color := range []string{"LIGHT_AMBER", "EXTRA_LIGHT_AMBER"} {
		other := barrel(t, "640.0", "clover")
		other.Barrel = uuid.New()
		_, found = estimate(append(all, advance(t, s, other, certificate(t, "17.0", color, "A"))), scope)
		require.False(t, found, "a class the run has no price above zero for: %s", color)
	}
}
