package settlement_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

const pricedFact = "barrelhead.settlement.v1.PayoutPriced"

// A member's three barrels, worked by hand: 738.88 + 699.16 + 627.40 = 2,065.44, hauling 38.51; the retain is 57.56, a cent
// more than on the sum of the weights, because each line rounds once.
func TestWorkedMemberFromTicketToTotal(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "642.5", "clover"}, barrelOf{"FC-2", "638.0", "clover"}, barrelOf{"FC-3", "645.0", "clover"})))
	for _, b := range []string{"FC-1", "FC-2", "FC-3"} {
		h.take(sampled(b))
	}
	require.Equal(t, map[string]string{"FC-1": "waiting for its certificate", "FC-2": "waiting for its certificate", "FC-3": "waiting for its certificate"}, h.waiting())
	h.take(graded("FC-1", 1, "17.4", "WHITE", "A"))
	h.take(graded("FC-2", 1, "18.9", "EXTRA_LIGHT_AMBER", "A"))
	h.take(graded("FC-3", 1, "19.2", "LIGHT_AMBER", "A"))

	total := h.total("M-0001")
	require.Equal(t, "Orchard Hill Apiary", total.GetDisplayName())
	require.Equal(t, int32(3), total.GetBarrels())
	require.Equal(t, int32(3), total.GetPricedBarrels())
	require.Equal(t, "1925.5", total.GetNet().GetValue())
	require.Equal(t, "1918.3", total.GetPayable().GetValue())
	require.Equal(t, "2065.44", total.GetGrossAmount().GetAmount())
	require.Equal(t, "-96.07", total.GetDeductions().GetAmount())
	require.Equal(t, "1969.37", total.GetNetAmount().GetAmount())
	require.Empty(t, h.waiting())
	require.Equal(t, 3, h.facts()[pricedFact])

	wet := h.payouts("M-0001")[0]
	require.Equal(t, "Barrel FC-3 measured 19.2 % water. Full weight is paid up to 18.6 %, so 4.8 lb of 645.0 lb is not paid (about $4.70).", wet.GetHeadline())
	require.Equal(t, []string{"refractive index 1.4885 at 21.0 °C on RF-2: 19.2 %"}, wet.GetLines()[0].GetExplanation().GetReadings())
	require.NotContains(t, wet.String(), "lab1", "a member never reads who measured")
}

func TestScheduleAdoptedLaterPricesWhatWaits(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"}, barrelOf{"FC-2", "640.0", "buckwheat"}, barrelOf{"FC-3", "640.0", "clover"})))
	h.take(sampled("FC-1"))
	h.take(sampled("FC-2"))
	h.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	h.take(graded("FC-2", 1, "17.0", "DARK_AMBER", "C"))
	require.Equal(t, "no schedule is adopted for crop year 2026 and deliveries of 2026-09-14", h.waiting()["FC-1"])

	h.adopt(prices("2026-09-15"))
	require.Len(t, h.waiting(), 3, "a schedule from the day after prices nothing")
	adopted := h.adopt(prices("2026-09-14"))
	require.Equal(t, map[string]string{
		"FC-2": "no adopted schedule has a price for buckwheat, dark amber, grade C", "FC-3": "waiting for its certificate",
	}, h.waiting())
	first := h.payouts("M-0001")[0]
	require.Equal(t, adopted.GetName(), first.GetLines()[0].GetExplanation().GetSchedule())

	dearer := prices("2026-09-01")
	dearer.Rows[0].Advance = perPound("2.00")
	dearer.Rows = append(dearer.Rows, &settlementv1.PriceRow{Variety: "buckwheat", ColorClass: "DARK_AMBER", Grade: "C", Advance: perPound("0.60")})
	h.adopt(dearer)
	require.Equal(t, first.String(), h.payouts("M-0001")[1].String(), "what was priced stays as it was")
	require.Equal(t, "384.00", h.payouts("M-0001")[0].GetGrossAmount().GetAmount())
}

func TestReissueMovesTheMoney(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(member("M-0002", "Three Oaks Honey"))
	old := ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"}, barrelOf{"FC-2", "640.0", "clover"})
	h.take(closed(old))
	h.take(sampled("FC-1"))
	h.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	h.take(&intakev1.TicketReissued{OldTicket: old, NewTicket: ticket("FC-2026-000002", "M-0002", barrelOf{"FC-1", "640.0", "clover"}, barrelOf{"FC-2", "640.0", "clover"})})

	mine := h.payouts("M-0001")
	require.Len(t, mine, 2)
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_REVERSAL, mine[0].GetKind())
	require.Equal(t, mine[1].GetName(), mine[0].GetReverses())
	require.Equal(t, "ticket FC-2026-000001 was void and ticket FC-2026-000002 replaces it", mine[0].GetReason())
	require.NotContains(t, mine[0].String(), "M-0002", "the old owner does not learn whose it was")
	require.Equal(t, "0.00", h.total("M-0001").GetNetAmount().GetAmount())
	require.Zero(t, h.total("M-0001").GetBarrels())
	require.Equal(t, mine[1].GetNetAmount().GetAmount(), h.total("M-0002").GetNetAmount().GetAmount())
	require.Equal(t, int32(2), h.total("M-0002").GetBarrels())
	require.Equal(t, int32(1), h.total("M-0002").GetPricedBarrels())
}

func TestVoidTakesBackAndWaitsForNothing(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	delivered := ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})
	h.take(closed(delivered))
	h.take(sampled("FC-1"))
	h.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	h.take(&intakev1.TicketVoided{Ticket: delivered})
	h.take(&intakev1.TicketVoided{Ticket: delivered})
	require.Len(t, h.payouts("M-0001"), 2)
	require.Equal(t, "0.00", h.total("M-0001").GetNetAmount().GetAmount())
	require.Empty(t, h.waiting())
}

func TestReplacedCertificatePaysTheDifference(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})))
	h.take(sampled("FC-1"))
	h.take(graded("FC-1", 1, "19.4", "WHITE", "A"))
	h.take(graded("FC-1", 2, "18.9", "WHITE", "A"))
	found := h.payouts("M-0001")
	require.Len(t, found, 3)
	require.Equal(t, "637.6", found[0].GetPayable().GetValue())
	require.Equal(t, "certificate G-FC-1-1 was replaced by G-FC-1-2 (referee reading)", found[1].GetReason())
	require.Equal(t, found[0].GetNetAmount().GetAmount(), h.total("M-0001").GetNetAmount().GetAmount())
}

func TestHoldsDelayButNeverTakeBack(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"}, barrelOf{"FC-2", "640.0", "clover"}, barrelOf{"FC-3", "640.0", "clover"})))
	for _, b := range []string{"FC-1", "FC-2", "FC-3"} {
		h.take(sampled(b))
	}
	h.take(held("FC-1", inventoryv1.HoldCode_HOLD_CODE_SCALE))
	h.take(held("FC-1", inventoryv1.HoldCode_HOLD_CODE_RESIDUE))
	h.take(held("FC-2", inventoryv1.HoldCode_HOLD_CODE_DOCUMENTS))
	for _, b := range []string{"FC-1", "FC-2", "FC-3"} {
		h.take(graded(b, 1, "17.0", "WHITE", "A"))
	}
	require.Len(t, h.payouts("M-0001"), 2, "papers do not delay money")
	require.Contains(t, h.waiting()["FC-1"], "on hold while it is tested for residues")
	h.take(held("FC-3", inventoryv1.HoldCode_HOLD_CODE_RECALL))
	require.Len(t, h.payouts("M-0001"), 2, "what was priced stays priced")
	h.take(released("FC-1", inventoryv1.HoldCode_HOLD_CODE_RESIDUE))
	require.Contains(t, h.waiting()["FC-1"], "the scale it was weighed on is under review")
	h.take(released("FC-1", inventoryv1.HoldCode_HOLD_CODE_SCALE))
	require.Len(t, h.payouts("M-0001"), 3)
}
