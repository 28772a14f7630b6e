package domain_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

// A member's three barrels, worked by hand: advances 738.88 + 699.16 + 627.40 = 2,065.44 and hauling 38.51 on 1,925.5 lb.
// The retain of 0.03 is 57.55 on the sum of the payable weights but 57.56 here, because each barrel's line rounds once.
func TestWorkedMember(t *testing.T) {
	t.Parallel()
	var honey, hauling, retain, net quantity.Money
	for _, b := range []struct{ net, water, color, payable, honey string }{
		{"642.5", "17.4", "WHITE", "642.5", "738.88"},
		{"638.0", "18.9", "EXTRA_LIGHT_AMBER", "635.6", "699.16"},
		{"645.0", "19.2", "LIGHT_AMBER", "640.2", "627.40"},
	} {
		p := advance(t, schedule(t), barrel(t, b.net, "clover"), certificate(t, b.water, b.color, "A"))
		require.Equal(t, b.payable, p.Payable.String())
		require.Equal(t, b.honey, p.Lines[0].Amount.String())
		honey, net = honey+p.Gross, net+p.Net
		hauling, retain = hauling+p.Lines[1].Amount, retain+p.Lines[2].Amount
	}
	require.Equal(t, "2065.44", honey.String())
	require.Equal(t, "-38.51", hauling.String())
	require.Equal(t, "-57.56", retain.String())
	require.Equal(t, honey+hauling+retain, net)
}

func TestWetBarrelIsExplainedInFull(t *testing.T) {
	t.Parallel()
	p := advance(t, schedule(t), barrel(t, "640.0", "clover"), certificate(t, "19.2", "EXTRA_LIGHT_AMBER", "A"))
	require.Equal(t, "Barrel FC-04417 measured 19.2 % water. Full weight is paid up to 18.6 %, so 4.7 lb of 640.0 lb is not paid (about $5.17).", p.Headline)
	honey := p.Lines[0]
	require.Equal(t, "Clover, extra light amber, grade A", honey.Description)
	require.Equal(t, "640.0 lb × (100 − 19.2) ÷ (100 − 18.6) = 635.3 lb; 635.3 lb × $1.10 = $698.83", honey.Why.Calculation)
	require.Equal(t, "Board 2026-06-14 no. 3", honey.Why.Authority)
	require.Equal(t, "G-2026-000412", honey.Why.CertificateNumber)
	require.Equal(t, "certificates/00000000-0000-4000-8000-0000000000d1", honey.Why.Certificate)
	require.Equal(t, []string{"refractive index 1.4885 at 21.0 °C on RF-2: 19.2 %"}, honey.Why.Readings)
	require.Equal(t, "19.2", honey.Why.Inputs["moisture_percent"])
	require.Equal(t, "640.0 lb", honey.Why.Inputs["net"])
	require.Equal(t, "any other source, extra light amber, grade A", honey.Why.Inputs["price_row"])
	hauling := p.Lines[1]
	require.Equal(t, "640.0 lb × $0.02 = $12.80 taken off", hauling.Why.Calculation)
	require.Equal(t, "Marketing agreement 2026, article 7", hauling.Why.Authority)
	require.Equal(t, "-12.80", hauling.Amount.String())
}

func TestStepComesOffThePrice(t *testing.T) {
	t.Parallel()
	s := schedule(t)
	s.Moisture.Step = price(t, "0.01")
	p := advance(t, s, barrel(t, "640.0", "clover"), certificate(t, "19.2", "WHITE", "A"))
	step := p.Lines[1]
	require.Equal(t, domain.LineStep, step.Kind)
	require.Equal(t, "-38.12", step.Amount.String())
	require.Equal(t, "19.2 − 18.6 = 0.6 %, counted as 6 × 0.1 %; 6 × $0.01 = $0.06; 635.3 lb × $0.06 = $38.12 taken off", step.Why.Calculation)
	require.Contains(t, p.Headline, "and the price is $0.06 per lb lower ($38.12).")
	require.Equal(t, p.Lines[0].Amount+step.Amount, p.Gross)
}

func TestDryBarrelReadsWell(t *testing.T) {
	t.Parallel()
	p := advance(t, schedule(t), barrel(t, "1640.0", "basswood"), certificate(t, "18.6", "WHITE", "A"))
	require.Equal(t, "Barrel FC-04417 is paid on its full weight: 1,640.0 lb of basswood, white, grade A at $1.22 per lb.", p.Headline)
	require.Equal(t, "1,640.0 lb × $1.22 = $2,000.80", p.Lines[0].Why.Calculation)
	require.Contains(t, p.Lines[0].Why.Rule, "18.6 % water is not above 18.6 %")
}

func TestChargeByTheBarrel(t *testing.T) {
	t.Parallel()
	s := schedule(t)
	s.Charges = []domain.Charge{{Code: "LINER", Description: "Drum liner", Authority: "Container terms 2026", Basis: domain.BasisBarrel, Amount: money(t, "2.50")}}
	p := advance(t, s, barrel(t, "640.0", "clover"), certificate(t, "17.0", "WHITE", "A"))
	require.Nil(t, p.Lines[1].Quantity)
	require.Equal(t, "-2.50", p.Lines[1].Amount.String())
	require.Equal(t, "1 barrel × $2.50 = $2.50 taken off", p.Lines[1].Why.Calculation)
}

func TestReversalMirrorsEveryLine(t *testing.T) {
	t.Parallel()
	p := advance(t, schedule(t), barrel(t, "640.0", "clover"), certificate(t, "19.2", "WHITE", "A"))
	r, err := p.Reverse("ticket FC-2026-000731 was void and ticket FC-2026-000744 replaces it", pounds, noon.Add(time.Hour))
	require.NoError(t, err)
	require.Equal(t, p.ID, r.Reverses)
	require.NotEqual(t, p.ID, r.ID)
	require.Equal(t, -p.Net, r.Net)
	require.Equal(t, -p.Gross, r.Gross)
	require.Len(t, r.Lines, len(p.Lines))
	for i, l := range r.Lines {
		require.Equal(t, -p.Lines[i].Amount, l.Amount)
		require.Equal(t, p.Lines[i].Quantity, l.Quantity)
		require.Equal(t, p.Lines[i].Rate, l.Rate)
	}
	require.Contains(t, r.Lines[1].Why.Calculation, "; taken back: $12.80")
	require.Equal(t, "Ticket FC-2026-000731 was void and ticket FC-2026-000744 replaces it. This takes back $698.74 for barrel FC-04417; what stands instead, if anything, is listed beside it.", r.Headline)
	_, err = r.Reverse("again", pounds, noon)
	require.EqualError(t, err, "a reversal cannot be reversed")
}

func TestPayoutThatDoesNotAddUpIsRefused(t *testing.T) {
	t.Parallel()
	p := advance(t, schedule(t), barrel(t, "640.0", "clover"), certificate(t, "19.2", "WHITE", "A"))
	p.Lines[2].Amount++
	var wrong *domain.TotalError
	require.ErrorAs(t, p.Check(), &wrong)
	require.Equal(t, "-0.01", wrong.Metadata()["difference"])
	p.Lines[0].Amount++
	require.ErrorContains(t, p.Check(), "gross amount of barrel FC-04417 should be")
}

func TestIdentityFollowsFromWhatIsPaid(t *testing.T) {
	t.Parallel()
	b, c := barrel(t, "640.0", "clover"), certificate(t, "19.2", "WHITE", "A")
	first, second := advance(t, schedule(t), b, c), advance(t, schedule(t), b, c)
	require.Equal(t, first, second)
	other := b
	other.Ticket[15]++
	require.NotEqual(t, first.ID, advance(t, schedule(t), other, c).ID)
}

func TestRandomPayoutsAddUpAndCancel(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		s := schedule(t)
		s.Moisture.Step = quantity.Price(rapid.Int64Range(0, 50_000).Draw(rt, "step"))
		s.Rows[0].Advance = quantity.Price(rapid.Int64Range(0, 5_000_000).Draw(rt, "price"))
		s.Charges[0].Rate = quantity.Price(rapid.Int64Range(1, 200_000).Draw(rt, "rate"))
		b, c := barrel(t, "640.0", "clover"), certificate(t, "19.2", "WHITE", "A")
		b.Net = quantity.Mass(rapid.Int64Range(0, 3_500_000).Draw(rt, "net"))
		c.Water = quantity.Percent(rapid.Int64Range(1200, 2500).Draw(rt, "water"))
		p := advance(t, s, b, c)
		r, err := p.Reverse("because", pounds, noon)
		require.NoError(t, err)
		require.Zero(t, p.Net+r.Net)
		for _, l := range p.Lines {
			if l.Quantity == nil {
				continue
			}
			worth, err := l.Rate.Times(*l.Quantity)
			require.NoError(t, err)
			if l.Kind != domain.LineHoney {
				worth = -worth
			}
			require.Equal(t, worth, l.Amount, "the engine's own product differs from the rule of the house")
		}
	})
}
