package rpc_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/rpctest"
)

// why asks about one barrel of the shelf and the question as it is.
func (h *house) why(q *inventoryv1.PlanBlendRequest, n int) *inventoryv1.BlendChoiceExplanation {
	h.t.Helper()
	e, err := h.as("wh1", warehouse).ExplainBlendChoice(h.t.Context(), &inventoryv1.ExplainBlendChoiceRequest{Plan: q, StockItem: item(n)})
	require.NoError(h.t, err)
	return e
}

func TestExplainBlendChoiceGivesTheExactReason(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	h.hold(wh, 3, inventoryv1.HoldCode_HOLD_CODE_RESIDUE)

	e := h.why(question(), 3)
	require.Equal(t, inventoryv1.BlendChoice_BLEND_CHOICE_BARRED, e.GetChoice())
	require.Equal(t, []inventoryv1.BlendObstacle{inventoryv1.BlendObstacle_BLEND_OBSTACLE_HELD}, e.GetObstacles())
	require.Equal(t, "barrel FC-00003 is on hold (residue): screen pending", e.GetExplanation())
	require.Len(t, e.GetHolds(), 1)

	// Two of each kind: any of one kind does as well as another.
	plan, err := wh.PlanBlend(t.Context(), question())
	require.NoError(t, err)
	in := plan.GetOrders()[0].GetStockItems()
	seen := map[inventoryv1.BlendChoice]int{}
	for n := 1; n <= 12; n++ {
		choice := h.why(question(), n).GetChoice()
		seen[choice]++
		require.Equal(t, contains(in, item(n)), choice == inventoryv1.BlendChoice_BLEND_CHOICE_IN_PLAN)
	}
	require.Equal(t, map[inventoryv1.BlendChoice]int{
		inventoryv1.BlendChoice_BLEND_CHOICE_IN_PLAN: 4, inventoryv1.BlendChoice_BLEND_CHOICE_TIE: 7, inventoryv1.BlendChoice_BLEND_CHOICE_BARRED: 1,
	}, seen)

	q := question()
	q.Orders[0].MinSharePercent = "100"
	e = h.why(q, 2)
	require.Equal(t, inventoryv1.BlendChoice_BLEND_CHOICE_BREAKS_LIMIT, e.GetChoice())
	require.Equal(t, []inventoryv1.BlendLimit{inventoryv1.BlendLimit_BLEND_LIMIT_MIN_WEIGHT, inventoryv1.BlendLimit_BLEND_LIMIT_MAX_WEIGHT, inventoryv1.BlendLimit_BLEND_LIMIT_MIN_SHARE},
		append([]inventoryv1.BlendLimit{inventoryv1.BlendLimit_BLEND_LIMIT_MIN_WEIGHT, inventoryv1.BlendLimit_BLEND_LIMIT_MAX_WEIGHT}, e.GetConflict()[len(e.GetConflict())-1]))
	last := e.GetBreaks()[len(e.GetBreaks())-1]
	require.Equal(t, "75.0", last.GetTo(), "three clover beside it are the best company")
	require.Contains(t, e.GetExplanation(), "25.0 %, to 75.0 %")

	q = question()
	q.AgeCreditPerDay = &typev1.Money{Amount: "0.25", CurrencyCode: "USD"}
	e = h.why(q, 12)
	require.Equal(t, inventoryv1.BlendChoice_BLEND_CHOICE_DEARER, e.GetChoice())
	require.Equal(t, "2.00", e.GetMore().GetAmount(), "eight days younger than the fourth barrel, which it would replace")
	require.Equal(t, e.GetMore(), e.GetAtLeast())
	require.Equal(t, "barrel FC-00012 would do, but the cheapest plan with it costs 2.00 USD more", e.GetExplanation())
	require.Contains(t, e.GetStockItems(), item(12))

	q.ExcludedItems, q.Grades = []string{item(12)}, []string{"A"}
	e = h.why(q, 12)
	require.Equal(t, []inventoryv1.BlendObstacle{inventoryv1.BlendObstacle_BLEND_OBSTACLE_GRADE, inventoryv1.BlendObstacle_BLEND_OBSTACLE_EXCLUDED}, e.GetObstacles())
}

func TestExplainBlendChoiceRefusesWhatItCannotMean(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	_, err := wh.ExplainBlendChoice(t.Context(), &inventoryv1.ExplainBlendChoiceRequest{Plan: question(), StockItem: item(99)})
	rpctest.Refused(t, err, codes.NotFound, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": item(99)})
	_, err = wh.ExplainBlendChoice(t.Context(), &inventoryv1.ExplainBlendChoiceRequest{Plan: question(), StockItem: "barrels/1", Order: "T-9"})
	rpctest.Faults(t, err, "stock_item", "order")
}

func TestHMFOnTheBestByDateAndAnOriginAreLimits(t *testing.T) {
	t.Parallel()
	h := open(t)
	wh := h.as("wh1", warehouse)
	for n, hmf := range []string{"4.0", "12.0", "30.0", ""} {
		b := fixture.Barrel{Number: n + 1, Net: "640.0", Variety: "clover"}
		d := fixture.Delivery{Number: n + 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-01", Declared: true, Barrels: []fixture.Barrel{b}}
		g := fixture.Grade{Number: n + 1, Grade: "A", ColorClass: "WHITE", Moisture: "17.0", Pfund: "30.0", HMF: hmf}
		fixture.Apply(t, h.db, append(d.Events(), fixture.Certified(b, g))...)
	}
	// 300 days after it was read, at 20 °C where 30 mg/kg take 600 days at the soonest: 15 mg/kg more.
	o := &inventoryv1.BlendOrder{Id: "T-1", MinWeight: lb("1280.0"), MaxWeight: lb("1280.0"), MaxHmfMgPerKg: "23.0", BestByDate: "2027-07-10"}
	q := &inventoryv1.PlanBlendRequest{Orders: []*inventoryv1.BlendOrder{o}}
	plan, err := wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.ElementsMatch(t, []string{item(1), item(2)}, plan.GetOrders()[0].GetStockItems())
	require.Equal(t, "23.0", plan.GetOrders()[0].GetHmfMgPerKg(), "8 and 15, exactly at the limit")
	require.Equal(t, []inventoryv1.BlendObstacle{inventoryv1.BlendObstacle_BLEND_OBSTACLE_HMF_UNKNOWN}, h.why(q, 4).GetObstacles())
	e := h.why(q, 3)
	require.Equal(t, inventoryv1.BlendChoice_BLEND_CHOICE_BREAKS_LIMIT, e.GetChoice())
	require.Contains(t, e.GetExplanation(), "9.0 mg/kg, to 32.0 mg/kg", "with the best of the others, 17 and 15")

	o.MaxHmfMgPerKg, o.BestByDate = "", ""
	o.Groups = []*inventoryv1.BlendGroup{{Name: "Upper Valley", StockItems: []string{item(3), item(4)}, MinSharePercent: "100"}}
	plan, err = wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.ElementsMatch(t, []string{item(3), item(4)}, plan.GetOrders()[0].GetStockItems())
	require.Equal(t, []string{"100.0"}, plan.GetOrders()[0].GetGroupSharesPercent())
	e = h.why(q, 1)
	require.Contains(t, e.GetConflict(), inventoryv1.BlendLimit_BLEND_LIMIT_MIN_GROUP)
	require.Contains(t, e.GetExplanation(), "at least 100.0 % Upper Valley")

	o.MaxHmfMgPerKg, o.StorageCelsius = "x", "70"
	o.Groups = append(o.Groups, &inventoryv1.BlendGroup{Name: "Upper Valley", StockItems: []string{"1"}, MinSharePercent: "50", MaxSharePercent: "40"})
	_, err = wh.PlanBlend(t.Context(), q)
	rpctest.Faults(t, err, "orders[0].max_hmf_mg_per_kg", "orders[0].best_by_date", "orders[0].storage_celsius", "orders[0].groups[1].name",
		"orders[0].groups[1].stock_items[0]", "orders[0].groups[1].max_share_percent")
}

func TestCheckBlendSwapComparesEveryLimit(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	check := func(out, in int) *inventoryv1.BlendSwapCheck {
		c, err := wh.CheckBlendSwap(t.Context(), &inventoryv1.CheckBlendSwapRequest{
			Order: question().GetOrders()[0], StockItems: []string{item(1), item(3), item(2), item(4)}, OutItems: []string{item(out)}, InItems: []string{item(in)},
		})
		require.NoError(t, err)
		return c
	}
	same := check(1, 5)
	require.True(t, same.GetAccepted())
	require.ElementsMatch(t, []string{item(3), item(2), item(4), item(5)}, same.GetStockItems())
	require.Len(t, same.GetLimits(), 4, "weight both ways, water and share")

	wetter := check(1, 6)
	require.False(t, wetter.GetAccepted())
	var water, share *inventoryv1.BlendLimitCheck
	for _, l := range wetter.GetLimits() {
		switch l.GetLimit() {
		case inventoryv1.BlendLimit_BLEND_LIMIT_MAX_MOISTURE:
			water = l
		case inventoryv1.BlendLimit_BLEND_LIMIT_MIN_SHARE:
			share = l
		default:
			require.True(t, l.GetKept())
		}
	}
	require.True(t, proto.Equal(&inventoryv1.BlendLimitCheck{
		Limit: inventoryv1.BlendLimit_BLEND_LIMIT_MAX_MOISTURE, Allowed: "17.7", Before: "17.70", After: "18.05", Unit: "%", KeptBefore: true, Excess: "0.35",
	}, water), "%v", water)
	require.Equal(t, "25.00", share.GetAfter())
	require.Equal(t, "refused: it comes to 18.05 %, and the order asks for water of at most 17.7 %; it comes to 25.00 %, and the order asks for at least 50.0 % clover", wetter.GetExplanation())

	h.hold(wh, 5, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	held := check(1, 5)
	require.False(t, held.GetAccepted())
	require.Equal(t, "refused: barrel FC-00005 is on hold (quality): screen pending", held.GetExplanation())

	_, err := wh.CheckBlendSwap(t.Context(), &inventoryv1.CheckBlendSwapRequest{
		Order: question().GetOrders()[0], StockItems: []string{item(1), item(1)}, OutItems: []string{item(7)}, InItems: []string{item(1)},
	})
	rpctest.Faults(t, err, "stock_items[1]", "out_items[0]", "in_items[0]")
}

func contains(names []string, name string) bool {
	for _, n := range names {
		if n == name {
			return true
		}
	}
	return false
}
