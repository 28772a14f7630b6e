package warehouse

import (
	"net/url"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// fit is one figure of a plan beside the limits it was asked to keep.
type fit struct{ Name, Value, Limit string }

// between words two limits, of which either may be missing.
func between(low, high, unit string) string {
	switch {
	case low != "" && high != "":
		return low + " to " + high + unit
	case low != "":
		return "at least " + low + unit
	case high != "":
		return "at most " + high + unit
	default:
		return "no limit"
	}
}

// plannedOrder is the answer for one order as it is shown.
type plannedOrder struct {
	Number  int
	Plan    *inventoryv1.BlendOrderPlan
	Filled  bool
	Items   []*inventoryv1.StockItem
	MakeUp  []*inventoryv1.StockTotal
	Fits    []fit
	PartTag string
	// Fill is where it is handed on to a tank.
	Fill string
	// Against is what stands in the way, for an order without an answer of its own.
	Against string
	form    orderForm
}

// plannedOrders shows each order, their barrels asked for all at once.
func (s room) plannedOrders(v *site.Visit, asked []orderForm, plan *inventoryv1.BlendPlan) []plannedOrder {
	var names []string
	for _, o := range plan.GetOrders() {
		names = append(append(names, o.GetStockItems()...), partOf(o)...)
	}
	items := s.BarrelsOf(v, names)
	all := make([]plannedOrder, min(len(asked), len(plan.GetOrders())))
	for n := range all {
		o := plan.GetOrders()[n]
		whole, rest := items[:len(o.GetStockItems())], items[len(o.GetStockItems()):]
		p := plannedOrder{Number: asked[n].Number, Plan: o, Filled: len(o.GetStockItems())+len(partOf(o)) > 0, Items: whole, form: asked[n], Against: against(plan, o)}
		if o.GetPartItem() != "" {
			rest[0].Remaining, p.PartTag = o.GetPartWeight(), rest[0].GetDrumTag()
			p.Items, rest = items[:len(whole)+1], rest[1:]
		}
		items = rest
		p.MakeUp, p.Fits, p.Fill = madeOf(p.Items), fitsOf(asked[n], o), "/tanks?"+s.planned(v, asked[n], p.Items).Encode()
		all[n] = p
	}
	return all
}

// against says why an order has no answer where the plan itself says it of all orders together.
func against(plan *inventoryv1.BlendPlan, o *inventoryv1.BlendOrderPlan) string {
	if o.GetStatus() != inventoryv1.BlendStatus_BLEND_STATUS_UNDECIDED || plan.GetStatus() != inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE {
		return ""
	}
	for _, other := range plan.GetOrders() {
		if other.GetStatus() == inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE {
			return "It was not planned, since order " + other.GetOrder() + " cannot be filled."
		}
	}
	return "It could not be filled beside the others: ask for it alone, or loosen a limit."
}

func fitsOf(f orderForm, o *inventoryv1.BlendOrderPlan) []fit {
	fits := []fit{
		{"Water", o.GetMoisturePercent() + " %", between(f.Value("min_moisture_percent"), f.Value("max_moisture_percent"), " %")},
		{"Colour", o.GetPfundMm() + " mm", between(f.Value("min_pfund_mm"), f.Value("max_pfund_mm"), " mm")},
	}
	if o.GetSharePercent() != "" {
		fits = append(fits, fit{sentenceCase(f.Value("variety")), o.GetSharePercent() + " %", between(f.Value("min_share_percent"), "", " %")})
	}
	for n, share := range o.GetGroupSharesPercent() {
		asked := claimGroup(f)[n]
		fits = append(fits, fit{"Approved as " + asked.GetClaim(), share + " %", between(asked.GetMinSharePercent(), "", " %")})
	}
	return append(fits, fit{"Members", strconv.Itoa(int(o.GetMembers())), between("", f.Value("max_members"), "")})
}

func partOf(o *inventoryv1.BlendOrderPlan) []string {
	if o.GetPartItem() == "" {
		return nil
	}
	return []string{o.GetPartItem()}
}

// planned hands a plan on to the tank it is filled into: its barrels as pick list, its limits as rules. A barrel goes by the tag of
// its drum, as people scan it, unless that drum no longer leads to it.
func (s room) planned(v *site.Visit, f orderForm, items []*inventoryv1.StockItem) url.Values {
	var tags, picks []string
	for _, item := range items {
		tags = append(tags, item.GetDrumTag())
	}
	barrels, _ := s.tagged(v, tags) // without an answer they go by their own ids
	for _, item := range items {
		pick := item.GetDrumTag()
		if barrels[pick].GetName() != item.GetName() {
			pick = site.IDOf(item.GetName())
		}
		picks = append(picks, pick)
	}
	query := url.Values{"picks": {strings.Join(picks, "\n")}}
	for _, name := range []string{"variety", "min_share_percent", "max_moisture_percent", "min_pfund_mm", "max_pfund_mm"} {
		if value := f.Value(name); value != "" {
			query.Set(name, value)
		}
	}
	return query
}

// madeOf draws what is chosen the way stock is drawn.
func madeOf(items []*inventoryv1.StockItem) []*inventoryv1.StockTotal {
	var totals []*inventoryv1.StockTotal
	for _, item := range items {
		totals = append(totals, &inventoryv1.StockTotal{Variety: item.GetVariety(), ColorClass: item.GetColorClass(), Barrels: 1, Net: left(item)})
	}
	return totals
}

// left is what is in a barrel now.
func left(item *inventoryv1.StockItem) *typev1.Mass {
	if item.GetRemaining() != nil {
		return item.GetRemaining()
	}
	return item.GetNet()
}

func sentenceCase(text string) string { return strings.TrimSuffix(site.Sentence(text), ".") }

// withUnit writes a number with the unit of its limit, as weights are written everywhere.
func withUnit(value, unit string) string {
	return wording.Screen.Mass(&typev1.Mass{Value: value, Unit: unit})
}

// beyond says by how much a limit is broken. Of a colour nothing: its density, in which colours mix, is not what anybody reads.
func beyond(c *inventoryv1.BlendLimitCheck) string {
	switch excess := c.GetExcess(); {
	case excess == "" || strings.Contains(excess, "density"):
		return ""
	case strings.HasPrefix(wording.Words(c.GetLimit()), "min "):
		return "short by " + excess
	default:
		return "over by " + excess
	}
}

var limits = map[string]string{
	"min weight": "the least weight", "max weight": "the most weight", "min moisture": "the least water", "max moisture": "the most water", "min colour": "the lightest colour",
	"max hmf": "the most HMF", "min group": "the least share of an origin", "max group": "the greatest share of an origin",
	"max colour": "the darkest colour", "min share": "the least share of the source", "max aged": "the most aged barrels", "max members": "the most members",
}

// limitWords says a limit the way the form asks for it.
func limitWords(limit any) string {
	if text, known := limits[wording.Words(limit)]; known {
		return text
	}
	return wording.Words(limit)
}
