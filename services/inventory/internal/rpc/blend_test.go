package rpc_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/rpctest"
)

func lb(v string) *typev1.Mass { return &typev1.Mass{Value: v, Unit: "LB"} }

func usd(v string) *typev1.Price {
	return &typev1.Price{Amount: v, CurrencyCode: "USD", PerUnit: "LB"}
}

// shelf is twelve graded barrels: odd numbers clover and light, even ones buckwheat and dark; the first is the oldest.
func (h *house) shelf() {
	for n := 1; n <= 12; n++ {
		b := fixture.Barrel{Number: n, Net: "640.0", Variety: []string{"buckwheat", "clover"}[n%2]}
		d := fixture.Delivery{
			Number: n, Member: fmt.Sprintf("members/M-%04d", n%5), CropYear: 2026, Date: fmt.Sprintf("2026-09-%02d", n), Declared: true,
			Barrels: []fixture.Barrel{b},
		}
		g := fixture.Grade{Number: n, Grade: "A", ColorClass: "WHITE", Moisture: "17.0", Pfund: "30.0"}
		if n%2 == 0 {
			g = fixture.Grade{Number: n, Grade: "B", ColorClass: "AMBER", Moisture: "18.4", Pfund: "90.0"}
		}
		fixture.Apply(h.t, h.db, append(d.Events(), fixture.Certified(b, g))...)
	}
}

func question() *inventoryv1.PlanBlendRequest {
	return &inventoryv1.PlanBlendRequest{
		Orders: []*inventoryv1.BlendOrder{{
			Id: "T-1", MinWeight: lb("2560.0"), MaxWeight: lb("2560.0"), MaxMoisturePercent: "17.7", Variety: "clover",
			MinSharePercent: "50", Price: usd("1.80"),
		}},
		Values: []*inventoryv1.BlendValue{{ColorClass: "AMBER", Price: usd("1.60")}, {Price: usd("2.10")}},
	}
}

func TestPlanBlendFillsAChargeFromFreeBarrelsAndReservesNothing(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	plan, err := wh.PlanBlend(t.Context(), question())
	require.NoError(t, err)
	require.Equal(t, inventoryv1.BlendStatus_BLEND_STATUS_PROVED, plan.GetStatus())
	require.Equal(t, int32(12), plan.GetCandidates())
	got := plan.GetOrders()[0]
	require.Len(t, got.GetStockItems(), 4)
	require.Equal(t, "2560.0", got.GetWeight().GetValue())
	require.Equal(t, "17.7", got.GetMoisturePercent(), "two of each: exactly at the limit")
	require.Equal(t, "50.0", got.GetSharePercent())
	// 1280 lb worth 2.10 and 1280 lb worth 1.60 for 1.80: 384.00 given away, 256.00 gained.
	require.Equal(t, "128.00", got.GetCost().GetAmount())
	require.Equal(t, got.GetCost(), plan.GetBound())
	require.Contains(t, got.GetExplanation(), "4 barrels, 2,560.0 lb: water 17.7 %")

	again, err := wh.PlanBlend(t.Context(), question())
	require.NoError(t, err)
	require.True(t, proto.Equal(plan, again))
}

func TestPlanBlendPrefersTheOldestAndLeavesOutHeldAndExcluded(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	h.hold(wh, 1, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	q := question()
	q.AgeCreditPerDay = &typev1.Money{Amount: "0.25", CurrencyCode: "USD"}
	q.ExcludedItems = []string{item(2)}
	plan, err := wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, int32(10), plan.GetCandidates())
	require.ElementsMatch(t, []string{item(3), item(5), item(4), item(6)}, plan.GetOrders()[0].GetStockItems())
	q.Grades = []string{"C"}
	plan, err = wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.Zero(t, plan.GetCandidates())
	require.Equal(t, inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE, plan.GetStatus())
}

func TestPlanBlendNamesWhatStandsInTheWay(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	q := question()
	q.Orders[0].MinWeight, q.Orders[0].MaxWeight, q.Orders[0].MaxMoisturePercent = lb("4480.0"), lb("5000.0"), "17.1"
	plan, err := h.as("wh1", warehouse).PlanBlend(t.Context(), q)
	require.NoError(t, err)
	got := plan.GetOrders()[0]
	require.Equal(t, inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE, got.GetStatus())
	require.Equal(t, []inventoryv1.BlendLimit{inventoryv1.BlendLimit_BLEND_LIMIT_MIN_WEIGHT, inventoryv1.BlendLimit_BLEND_LIMIT_MAX_MOISTURE}, got.GetConflict())
	require.Equal(t, "no choice of barrels on hand keeps a weight of at least 4,480.0 lb and water of at most 17.1 %; "+
		"there is one with a weight of at least 3,840.0 lb, or one with water of at most 17.2 %", got.GetExplanation())
	require.Len(t, got.GetRelaxations(), 2)
	water := got.GetRelaxations()[1]
	require.Equal(t, "17.1 17.2 0.1 %", strings.Join([]string{water.GetFrom(), water.GetTo(), water.GetBy(), water.GetUnit()}, " "))
	require.True(t, water.GetNearest())
	require.Nil(t, got.GetBound())
}

func TestPlanBlendOfTwoOrdersUsesNoBarrelTwice(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	q := question()
	second := proto.CloneOf(q.GetOrders()[0])
	second.Id = "T-2"
	q.Orders = append(q.Orders, second)
	plan, err := h.as("wh1", warehouse).PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.Contains(t, []inventoryv1.BlendStatus{inventoryv1.BlendStatus_BLEND_STATUS_PROVED, inventoryv1.BlendStatus_BLEND_STATUS_FOUND}, plan.GetStatus())
	seen := map[string]bool{}
	for _, o := range plan.GetOrders() {
		for _, name := range o.GetStockItems() {
			require.False(t, seen[name])
			seen[name] = true
		}
	}
	require.Len(t, seen, 8)
	require.Equal(t, "256.00", plan.GetCost().GetAmount())
}

func TestPlanBlendReportsEveryFaultAtOnce(t *testing.T) {
	t.Parallel()
	h := open(t)
	wh := h.as("wh1", warehouse)
	q := question()
	o := q.GetOrders()[0]
	o.MinWeight, o.MaxMoisturePercent, o.MinPfundMm, o.MinSharePercent = &typev1.Mass{Value: "9.0", Unit: "KG"}, "wet", "34.555", "101"
	q.ExcludedItems = []string{"barrels/7"}
	q.Values[0].Price.CurrencyCode = "EUR"
	_, err := wh.PlanBlend(t.Context(), q)
	rpctest.Faults(t, err, "orders[0].min_weight.unit", "orders[0].max_moisture_percent", "orders[0].min_pfund_mm",
		"orders[0].min_share_percent", "excluded_items[0]", "values[0].price.currency_code")

	q = question()
	o = q.GetOrders()[0]
	o.MaxWeight, o.MinMoisturePercent, o.Variety, o.MinPfundMm, o.MaxPfundMm = lb("2000.0"), "18.0", "", "50", "34"
	q.Orders = append(q.Orders, &inventoryv1.BlendOrder{Id: "T-1", MinWeight: lb("0"), MaxWeight: lb("0")})
	_, err = wh.PlanBlend(t.Context(), q)
	rpctest.Faults(t, err, "orders[0].max_weight", "orders[0].max_moisture_percent", "orders[0].max_pfund_mm", "orders[0].variety",
		"orders[1].id", "orders[1].min_weight")
}

func TestPlanBlendMayUseOneBarrelInPart(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	q := question()
	o := q.GetOrders()[0]
	o.MinWeight, o.MaxWeight, o.PartBarrel = lb("2500.0"), lb("2500.0"), true
	plan, err := wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	got := plan.GetOrders()[0]
	require.Len(t, got.GetStockItems(), 3)
	require.NotEmpty(t, got.GetPartItem())
	require.Equal(t, "580.0", got.GetPartWeight().GetValue())
	require.Equal(t, "2500.0", got.GetWeight().GetValue())
	require.Contains(t, got.GetExplanation(), "580.0 lb of it from one more barrel")
	second := proto.CloneOf(o)
	second.Id = "T-2"
	q.Orders = append(q.Orders, second)
	_, err = wh.PlanBlend(t.Context(), q)
	rpctest.Faults(t, err, "orders[0].part_barrel", "orders[1].part_barrel")
}

func TestPlanBlendCountsWhatIsLeftInABarrel(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	wh := h.as("wh1", warehouse)
	_, err := wh.SplitBarrel(t.Context(), &inventoryv1.SplitBarrelRequest{RequestId: request(), Name: item(1), Parts: []*inventoryv1.SplitPart{{DrumTag: "PAIL-1", Net: lb("60.0")}}})
	require.NoError(t, err)
	q := question()
	q.Orders[0].MinWeight, q.Orders[0].MaxWeight, q.Orders[0].MinSharePercent = lb("580.0"), lb("580.0"), "100"
	plan, err := wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, int32(13), plan.GetCandidates())
	require.Equal(t, []string{item(1)}, plan.GetOrders()[0].GetStockItems())
}
