package e2e

import (
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// TestPayoutsRecomputed works a season and computes every payout again with rational numbers, from the certificates, the
// weights and the schedule as the API shows them, by the published rule: payable = net × (100 − M) ÷ (100 − base), the
// grain water-shrink factor (Virginia Tech, Constant Moisture Grain Marketing, 2001).
func TestPayoutsRecomputed(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 9, Barrels: 80})
	require.NoError(t, w.crew.Work(t.Context(), w.client, "admin", season.Password))
	settled(t, w.crew)
	office := w.crew.Session("office")
	var schedules settlementv1.ListSchedulesResponse
	require.NoError(t, office.Get(t.Context(), "/v1/schedules", &schedules))
	require.Len(t, schedules.GetSchedules(), 1)
	barrels, docked, shared := map[string]*settlementv1.Payout{}, 0, 0
	for _, m := range w.crew.Season.Members {
		var page settlementv1.ListPayoutsResponse
		require.NoError(t, office.Get(t.Context(), "/v1/members/"+m.Number+"/payouts?page_size=1000", &page))
		for _, payout := range page.GetPayouts() {
			if payout.GetKind() != settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE {
				continue
			}
			// Owners' parts of a barrel are added up again: together they are what one owner would get.
			key := payout.GetBarrel() + payout.GetTicket() + payout.GetLines()[0].GetExplanation().GetCertificate()
			if whole := barrels[key]; whole != nil {
				whole.Net.Value = sum(t, whole.GetNet().GetValue(), payout.GetNet().GetValue(), 3)
				whole.Payable.Value = sum(t, whole.GetPayable().GetValue(), payout.GetPayable().GetValue(), 3)
				whole.NetAmount.Amount = sum(t, whole.GetNetAmount().GetAmount(), payout.GetNetAmount().GetAmount(), 2)
				shared++
				continue
			}
			barrels[key] = payout
		}
	}
	for _, payout := range barrels {
		var cert gradingv1.Certificate
		require.NoError(t, office.Get(t.Context(), "/v1/"+payout.GetLines()[0].GetExplanation().GetCertificate(), &cert))
		require.Equal(t, expected(t, schedules.GetSchedules()[0], payout, &cert), payout.GetNetAmount().GetAmount(), "%s", payout)
		if payout.GetPayable().GetValue() != payout.GetNet().GetValue() {
			docked++
		}
	}
	require.GreaterOrEqual(t, len(barrels), 80)
	require.Positive(t, docked, "no barrel of the season was above the base, so the rule was not tried")
	require.Positive(t, shared, "no barrel of the season had several owners, so their parts were not tried")
}

func sum(t *testing.T, a, b string, digits int) string {
	t.Helper()
	return new(big.Rat).Add(rat(t, a), rat(t, b)).FloatString(digits)
}

func expected(t *testing.T, s *settlementv1.Schedule, p *settlementv1.Payout, c *gradingv1.Certificate) string {
	t.Helper()
	net, water := rat(t, p.GetNet().GetValue()), rat(t, c.GetDecision().GetMoisturePercent())
	base := rat(t, s.GetMoistureRule().GetBasePercent())
	payable := new(big.Rat).Set(net)
	hundred := big.NewRat(100, 1)
	total := new(big.Rat)
	if water.Cmp(base) > 0 {
		payable.Mul(net, new(big.Rat).Sub(hundred, water))
		payable = round(payable.Quo(payable, new(big.Rat).Sub(hundred, base)), 10)
		tenths := new(big.Rat).Mul(new(big.Rat).Sub(water, base), big.NewRat(10, 1))
		step := new(big.Rat).Mul(rat(t, s.GetMoistureRule().GetStepPerTenth().GetAmount()), tenths)
		total.Sub(total, round(step.Mul(step, payable), 100))
	}
	require.Equal(t, rat(t, p.GetPayable().GetValue()), payable)
	total.Add(total, round(new(big.Rat).Mul(price(t, s, c), payable), 100))
	for _, d := range s.GetDeductions() {
		switch d.GetBasis() {
		case settlementv1.DeductionBasis_DEDUCTION_BASIS_NET_WEIGHT:
			total.Sub(total, round(new(big.Rat).Mul(rat(t, d.GetRate().GetAmount()), net), 100))
		case settlementv1.DeductionBasis_DEDUCTION_BASIS_PAYABLE_WEIGHT:
			total.Sub(total, round(new(big.Rat).Mul(rat(t, d.GetRate().GetAmount()), payable), 100))
		default:
			total.Sub(total, rat(t, d.GetAmount().GetAmount()))
		}
	}
	return total.FloatString(2)
}

// price is the cell of the variety, or of the row for every other variety.
func price(t *testing.T, s *settlementv1.Schedule, c *gradingv1.Certificate) *big.Rat {
	t.Helper()
	for _, variety := range []string{c.GetVariety(), ""} {
		for _, row := range s.GetRows() {
			if row.GetVariety() == variety && row.GetColorClass() == c.GetDecision().GetColorClass() && row.GetGrade() == c.GetDecision().GetGrade() {
				return rat(t, row.GetAdvance().GetAmount())
			}
		}
	}
	require.Fail(t, "no price", "%s", c)
	return nil
}

func rat(t *testing.T, s string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(strings.TrimSpace(s))
	require.True(t, ok, "%q is not a number", s)
	return r
}

// round rounds a positive number half up to the given parts of one.
func round(r *big.Rat, parts int64) *big.Rat {
	scaled := new(big.Rat).Mul(r, big.NewRat(parts, 1))
	scaled.Add(scaled, big.NewRat(1, 2))
	whole := new(big.Int).Div(scaled.Num(), scaled.Denom())
	return new(big.Rat).SetFrac(whole, big.NewInt(parts))
}
