package web

import (
	"net/url"
	"strconv"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// blend answers an order with barrels. Asking reserves nothing, so the whole question is in the address: it can be kept,
// passed on and asked again tomorrow.
func (s *site) blend(v *visit) (view, error) {
	f := v.form()
	d := map[string]any{"Form": f, "Unit": words(s.Cooperative.Unit)}
	if f.Value("max_weight") != "" {
		request, err := s.typedOrder(v, f)
		if err == nil {
			var plan *inventoryv1.BlendPlan
			if plan, err = s.inventory.PlanBlend(v.ctx, request); err == nil {
				s.showPlan(v, f, d, plan)
				err = s.askOn(v, f, d, request, plan)
			}
		}
		if err != nil && !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "blend", title: "Plan a blend", data: d}, nil
}

func (s *site) typedOrder(v *visit, f *form) (*inventoryv1.PlanBlendRequest, error) {
	excluded, err := s.scannedAll(v, f.Value("excluded"))
	if err != nil {
		return nil, err
	}
	order := &inventoryv1.BlendOrder{
		Id: "order", MinWeight: s.massOr(f.Value("min_weight")), MaxWeight: s.massOr(f.Value("max_weight")), Variety: strings.ToLower(f.Value("variety")),
		MinMoisturePercent: decimal(f.Value("min_moisture_percent")), MaxMoisturePercent: decimal(f.Value("max_moisture_percent")),
		MinPfundMm: decimal(f.Value("min_pfund_mm")), MaxPfundMm: decimal(f.Value("max_pfund_mm")), MinSharePercent: decimal(f.Value("min_share_percent")),
		MaxMembers: few(f.Value("max_members")), AgedCropYear: few(f.Value("aged_crop_year")), PartBarrel: f.Value("part_barrel") != "",
		MaxHmfMgPerKg: decimal(f.Value("max_hmf_mg_per_kg")), BestByDate: f.Value("best_by_date"), StorageCelsius: decimal(f.Value("storage_celsius")), Groups: claimGroup(f),
	}
	if order.GetMinWeight() == nil {
		order.MinWeight = order.GetMaxWeight()
	}
	if typed := f.Value("max_aged_barrels"); typed != "" {
		most := few(typed)
		order.MaxAgedBarrels = &most
	}
	if typed := f.Value("price"); typed != "" {
		order.Price = s.typedPrice(typed)
	}
	request := &inventoryv1.PlanBlendRequest{Orders: []*inventoryv1.BlendOrder{order}, ExcludedItems: excluded}
	for grade := range strings.FieldsFuncSeq(f.Value("grades"), func(r rune) bool { return r == ',' || r == ' ' }) {
		request.Grades = append(request.Grades, strings.ToUpper(grade))
	}
	return request, nil
}

// askOn answers what is asked of a plan: why it leaves a barrel out, and whether another may take the place of one of its own.
func (s *site) askOn(v *visit, f *form, d map[string]any, request *inventoryv1.PlanBlendRequest, plan *inventoryv1.BlendPlan) error {
	if code := f.Value("why"); code != "" {
		name, err := s.scanned(v, code)
		if err != nil {
			return err
		}
		if d["Why"], err = s.inventory.ExplainBlendChoice(v.ctx, &inventoryv1.ExplainBlendChoiceRequest{Plan: request, StockItem: name}); err != nil {
			return err
		}
	}
	if f.Value("swap_out") == "" && f.Value("swap_in") == "" {
		return nil
	}
	out, err := s.scannedAll(v, f.Value("swap_out"))
	if err != nil {
		return err
	}
	in, err := s.scannedAll(v, f.Value("swap_in"))
	if err != nil {
		return err
	}
	o := plan.GetOrders()[0]
	d["Swap"], err = s.inventory.CheckBlendSwap(v.ctx, &inventoryv1.CheckBlendSwapRequest{
		Order: request.GetOrders()[0], StockItems: o.GetStockItems(), PartItem: o.GetPartItem(), PartWeight: o.GetPartWeight(), OutItems: out, InItems: in,
	})
	return err
}

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

func (s *site) showPlan(v *visit, f *form, d map[string]any, plan *inventoryv1.BlendPlan) {
	d["Plan"] = plan
	if len(plan.GetOrders()) == 0 {
		return
	}
	o := plan.GetOrders()[0]
	items := s.barrelsOf(v, o.GetStockItems())
	for _, part := range s.barrelsOf(v, partOf(o)) {
		part.Remaining, d["PartTag"] = o.GetPartWeight(), part.GetDrumTag()
		items = append(items, part)
	}
	d["Order"], d["Items"], d["MakeUp"] = o, items, madeOf(items)
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
	d["Fits"] = append(fits, fit{"Members", strconv.Itoa(int(o.GetMembers())), between("", f.Value("max_members"), "")})
	d["Fill"] = "/tanks?" + s.planned(v, f, items).Encode()
}

func partOf(o *inventoryv1.BlendOrderPlan) []string {
	if o.GetPartItem() == "" {
		return nil
	}
	return []string{o.GetPartItem()}
}

// planned hands a plan on to the tank it is filled into: its barrels as pick list, its limits as rules. A barrel goes by the tag of
// its drum, as people scan it, unless that drum no longer leads to it.
func (s *site) planned(v *visit, f *form, items []*inventoryv1.StockItem) url.Values {
	var picks []string
	for _, item := range items {
		pick := item.GetDrumTag()
		if name, err := s.scanned(v, pick); err != nil || name != item.GetName() {
			pick = idOf(item.GetName())
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

func sentenceCase(text string) string { return strings.TrimSuffix(sentence(text), ".") }

var limits = map[string]string{
	"min weight": "the least weight", "max weight": "the most weight", "min moisture": "the least water", "max moisture": "the most water", "min colour": "the lightest colour",
	"max hmf": "the most HMF", "min group": "the least share of an origin", "max group": "the greatest share of an origin",
	"max colour": "the darkest colour", "min share": "the least share of the source", "max aged": "the most aged barrels", "max members": "the most members",
}

// limitWords says a limit the way the form asks for it.
func limitWords(limit any) string {
	if text, known := limits[words(limit)]; known {
		return text
	}
	return words(limit)
}
