package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// A cooperative may weigh in kilograms and pay in another currency; its members read the same sentences.
func TestOtherUnitsAndCurrencies(t *testing.T) {
	t.Parallel()
	terms := domain.Terms{Unit: quantity.KG, Currency: "EUR"}
	table := domain.Compile(schedule(t))
	b, c := barrel(t, "1290.4", "clover"), certificate(t, "19.2", "WHITE", "A")
	p, err := domain.NewAdvance(table, 0, b, c, terms, noon)
	require.NoError(t, err)
	require.Equal(t, "Barrel FC-04417 measured 19.2 % water. Full weight is paid up to 18.6 %, so 9.5 kg of 1,290.4 kg is not paid (about 10.93 EUR).", p.Headline)
	require.Equal(t, "1,290.4 kg × (100 − 19.2) ÷ (100 − 18.6) = 1,280.9 kg; 1,280.9 kg × 1.15 EUR = 1,473.04 EUR", p.Lines[0].Why.Calculation)
	r, err := p.Reverse("ticket FC-2026-000731 was voided", terms, noon)
	require.NoError(t, err)
	require.Contains(t, r.Lines[0].Why.Calculation, "; taken back: −1,473.04 EUR")
	require.Equal(t, "−1,000,000.05 EUR", terms.Money(-1_000_000_05))
	require.Equal(t, "−$0.05", pounds.Money(-5))
	require.Equal(t, "$999.00", pounds.Money(999_00))
}

// A charge may be more than the honey is worth. Taking that back gives, and says so.
func TestReversalOfAChargeGivesBack(t *testing.T) {
	t.Parallel()
	s := schedule(t)
	s.Rows[0].Advance = 0
	p := advance(t, s, barrel(t, "640.0", "clover"), certificate(t, "17.0", "WHITE", "A"))
	require.Equal(t, "-32.00", p.Net.String())
	r, err := p.Reverse("ticket FC-2026-000731 was voided", pounds, noon)
	require.NoError(t, err)
	require.Equal(t, "Ticket FC-2026-000731 was voided. This gives back the charge of $32.00 for barrel FC-04417; what stands instead, if anything, is listed beside it.", r.Headline)
}
