package settlement_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// A pool of 1,800,000 lb worked by hand: sales 3,950,000.00, expenses 558,000.00, differentials +0.05, 0, −0.12 and −0.25.
// Σ weight × differential = −16,000.00, so the base is 3,408,000 ÷ 1,800,000 = 1.893333…, declared as 1.89333. One member's
// three barrels are three of it; the rest of each class stands as one barrel.
func TestWorkedPoolToTheCent(t *testing.T) {
	t.Parallel()
	h := open(t)
	s := prices("2026-07-01")
	s.Rows = append(s.Rows, &settlementv1.PriceRow{ColorClass: "AMBER", Grade: "A", Advance: perPound("0.80")})
	h.adopt(s)
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(member("M-0002", "Three Oaks Honey"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "642.5", "clover"}, barrelOf{"FC-2", "638.0", "clover"}, barrelOf{"FC-3", "645.0", "clover"})))
	h.take(closed(ticket("FC-2026-000002", "M-0002", barrelOf{"FC-4", "899357.5", "clover"}, barrelOf{"FC-5", "499364.4", "clover"},
		barrelOf{"FC-6", "299359.8", "clover"}, barrelOf{"FC-7", "100000.0", "clover"})))
	for tag, c := range map[string][2]string{
		"FC-1": {"17.4", "WHITE"}, "FC-2": {"18.9", "EXTRA_LIGHT_AMBER"}, "FC-3": {"19.2", "LIGHT_AMBER"},
		"FC-4": {"17.0", "WHITE"}, "FC-5": {"17.0", "EXTRA_LIGHT_AMBER"}, "FC-6": {"17.0", "LIGHT_AMBER"}, "FC-7": {"17.0", "AMBER"},
	} {
		h.take(sampled(tag))
		h.take(graded(tag, 1, c[0], c[1], "A"))
	}
	m := &market{house: h, as: h.serve()}
	m.pool = poolOf(m)
	m.sells("3950000.00")
	m.spends("558000.00")
	r := m.settled()
	require.Equal(t, "1800000.0", r.GetPayable().GetValue())
	require.Equal(t, "3392000.00", r.GetDistributable().GetAmount())
	require.Equal(t, "1.89333", r.GetBasePrice().GetAmount())
	declared := map[string]string{}
	for _, c := range r.GetClasses() {
		declared[c.GetColorClass()] = c.GetPrice().GetAmount()
	}
	require.Equal(t, map[string]string{"WHITE": "1.94333", "EXTRA_LIGHT_AMBER": "1.89333", "LIGHT_AMBER": "1.77333", "AMBER": "1.64333"}, declared)
	require.Equal(t, "6.00", r.GetResidual().GetAmount(), "0.0000033 on 1,800,000 lb")
	parts, err := m.as(board).ListRunMembers(t.Context(), &settlementv1.ListRunMembersRequest{Run: r.GetName()})
	require.NoError(t, err)
	first := parts.GetRunMembers()[0]
	require.Equal(t, "1918.3", first.GetPayable().GetValue())
	require.Equal(t, "3587.28", first.GetValue().GetAmount())
	require.Equal(t, "2065.44", first.GetCreditedBefore().GetAmount())
	require.Equal(t, "1521.84", first.GetDue().GetAmount())
	values := map[string]string{}
	for _, p := range m.payouts("M-0001") {
		if p.GetKind() == settlementv1.PayoutKind_PAYOUT_KIND_FINAL {
			values[p.GetDrumTag()] = p.GetLines()[0].GetAmount().GetAmount()
		}
	}
	require.Equal(t, map[string]string{"FC-1": "1248.59", "FC-2": "1203.40", "FC-3": "1135.29"}, values)
}

// The board corrects its schedule after 400 advances, for the very days they were delivered on: the advances are honoured,
// and not a word of theirs changes; what comes after is priced by the new version.
func TestScheduleCorrectedAfter400Advances(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.waits(400)
	first := h.adopt(prices("2026-07-01"))
	everything := func() (all []*settlementv1.Payout) {
		for n := range 100 {
			all = append(all, h.payouts(fmt.Sprintf("M-%04d", n+1))...)
		}
		return all
	}
	before := everything()
	require.Len(t, before, 400)
	corrected := prices("2026-09-01")
	corrected.Rows[0].Advance = perPound("1.19")
	second := h.adopt(corrected)
	require.NoError(t, h.app.Sweep(t.Context()))
	after := everything()
	require.Len(t, after, 400)
	for i := range before {
		require.True(t, proto.Equal(before[i], after[i]), "%s was %s", after[i], before[i])
		require.Equal(t, first.GetName(), after[i].GetLines()[0].GetExplanation().GetSchedule())
	}
	h.take(closed(ticket("FC-2026-000999", "M-0001", barrelOf{"NEW-1", "640.0", "clover"})))
	h.take(sampled("NEW-1"))
	h.take(graded("NEW-1", 1, "17.0", "WHITE", "A"))
	late := h.payouts("M-0001")[0]
	require.Equal(t, second.GetName(), late.GetLines()[0].GetExplanation().GetSchedule())
	require.Equal(t, "761.60", late.GetGrossAmount().GetAmount())
	old, err := h.app.GetSchedule(t.Context(), &settlementv1.GetScheduleRequest{Name: first.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(first, old))
}
