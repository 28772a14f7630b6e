package warehouse

import (
	"slices"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// mostOrders are planned on one page; the service takes more.
const mostOrders = 6

// orderForm is the part of the form one order is typed into. Names of the fields of all but the first end in its number.
type orderForm struct {
	*site.Form
	Number int
	ending string
}

// Name is what the order's own field of this name is called.
func (o orderForm) Name(field string) string { return field + o.ending }

// Value is what was typed into the order's own field.
func (o orderForm) Value(field string) string { return o.Form.Value(o.Name(field)) }

// Open reports whether one of the limits that are folded away was given.
func (o orderForm) Open() bool {
	for _, field := range []string{"max_members", "price", "part_barrel", "claim", "min_moisture_percent", "min_pfund_mm", "max_hmf_mg_per_kg", "aged_crop_year"} {
		if o.Value(field) != "" || o.Fault(o.Name(field)) != "" {
			return true
		}
	}
	return false
}

func orderForms(f *site.Form) []orderForm {
	n := site.Count(f.Value("orders"))
	if f.Value("more") != "" {
		n = max(n, 1) + 1
	}
	all := []orderForm{{Form: f, Number: 1}}
	for number := 2; number <= int(min(n, mostOrders)); number++ {
		all = append(all, orderForm{f, number, "_" + strconv.Itoa(number)})
	}
	return all
}

// blend answers orders with barrels. Asking reserves nothing, so the whole question is in the address: it can be kept,
// passed on and asked again tomorrow.
func (s room) blend(v *site.Visit) (site.View, error) {
	f := v.Form()
	orders := orderForms(f)
	d := map[string]any{"Form": f, "Orders": orders, "MayAdd": len(orders) < mostOrders, "Unit": wording.Words(s.Cooperative.Unit), "Currency": s.Cooperative.Currency}
	if f.Value("max_weight") != "" {
		if err := s.planAsked(v, f, d, orders); err != nil && !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "blend", Title: "Plan a blend", Data: d}, nil
}

func (s room) planAsked(v *site.Visit, f *site.Form, d map[string]any, orders []orderForm) error {
	asked := slices.DeleteFunc(slices.Clone(orders), func(o orderForm) bool { return o.Value("max_weight") == "" })
	request, err := s.typedPlan(v, f, asked)
	if err != nil {
		return err
	}
	plan, err := s.Inventory.PlanBlend(v.Ctx, request)
	if err != nil {
		return err
	}
	planned := s.plannedOrders(v, asked, plan)
	d["Plan"], d["Planned"] = plan, planned
	d["Valued"] = len(request.GetValues()) > 0 || request.GetAgeCreditPerDay() != nil || slices.ContainsFunc(request.GetOrders(), func(o *inventoryv1.BlendOrder) bool { return o.GetPrice() != nil })
	return s.askOn(v, f, d, request, planned)
}

// pageBudget is the work on several orders at once while somebody waits for the page: a few seconds even on a busy machine. The
// plan says how far from the best it can be; who wants less asks by the API for more.
const pageBudget = 50_000

func (s room) typedPlan(v *site.Visit, f *site.Form, orders []orderForm) (*inventoryv1.PlanBlendRequest, error) {
	excluded, err := s.scannedAll(v, f.Value("excluded"))
	if err != nil {
		return nil, err
	}
	request := &inventoryv1.PlanBlendRequest{ExcludedItems: excluded, AgeCreditPerDay: s.TypedMoney(f.Value("age_credit"))}
	if len(orders) > 1 {
		request.NodeBudget = pageBudget
	}
	for _, o := range orders {
		request.Orders = append(request.Orders, s.typedOrder(o))
		if len(orders) > 1 {
			f.InRow("orders", "order "+strconv.Itoa(o.Number), o.ending)
		}
	}
	for grade := range strings.FieldsFuncSeq(f.Value("grades"), func(r rune) bool { return r == ',' || r == ' ' }) {
		request.Grades = append(request.Grades, strings.ToUpper(grade))
	}
	for n, cells := range site.LinesOf(f.Value("values")) {
		if len(cells) != 3 {
			f.BadLine("values", n, "source, colour and price")
			return nil, badLines(f)
		}
		request.Values = append(request.Values, &inventoryv1.BlendValue{
			Variety: anyOr(strings.ToLower(cells[0])), ColorClass: strings.ReplaceAll(strings.ToUpper(anyOr(cells[1])), " ", "_"), Price: s.TypedPrice(cells[2]),
		})
	}
	return request, nil
}

// anyOr is a word, or empty for any.
func anyOr(word string) string {
	if strings.EqualFold(word, "any") {
		return ""
	}
	return word
}

func (s room) typedOrder(f orderForm) *inventoryv1.BlendOrder {
	order := &inventoryv1.BlendOrder{
		Id: strconv.Itoa(f.Number), MinWeight: s.MassOr(f.Value("min_weight")), MaxWeight: s.MassOr(f.Value("max_weight")), Variety: strings.ToLower(f.Value("variety")),
		MinMoisturePercent: site.Number(f.Value("min_moisture_percent")), MaxMoisturePercent: site.Number(f.Value("max_moisture_percent")),
		MinPfundMm: site.Number(f.Value("min_pfund_mm")), MaxPfundMm: site.Number(f.Value("max_pfund_mm")), MinSharePercent: site.Number(f.Value("min_share_percent")),
		MaxMembers: site.Few(f.Value("max_members")), AgedCropYear: site.Few(f.Value("aged_crop_year")), PartBarrel: f.Value("part_barrel") != "",
		MaxHmfMgPerKg: site.Number(f.Value("max_hmf_mg_per_kg")), BestByDate: f.Value("best_by_date"), StorageCelsius: site.Number(f.Value("storage_celsius")), Groups: claimGroup(f),
	}
	if order.GetMinWeight() == nil {
		order.MinWeight = order.GetMaxWeight()
	}
	if typed := f.Value("max_aged_barrels"); typed != "" {
		most := site.Few(typed)
		order.MaxAgedBarrels = &most
	}
	if typed := f.Value("price"); typed != "" {
		order.Price = s.TypedPrice(typed)
	}
	return order
}

// askOn answers what is asked of a plan: why it leaves a barrel out, and whether another may take the place of one of its own.
func (s room) askOn(v *site.Visit, f *site.Form, d map[string]any, request *inventoryv1.PlanBlendRequest, planned []plannedOrder) error {
	if code := f.Value("why"); code != "" {
		name, err := s.scanned(v, code)
		if err != nil {
			return err
		}
		// Of several orders the barrel might have been for the one that was pressed, and for the first unless one was.
		order := request.GetOrders()[0].GetId()
		for _, o := range request.GetOrders() {
			if o.GetId() == f.Value("why_order") {
				order = o.GetId()
			}
		}
		if d["Why"], err = s.Inventory.ExplainBlendChoice(v.Ctx, &inventoryv1.ExplainBlendChoiceRequest{Plan: request, Order: order, StockItem: name}); err != nil {
			return err
		}
	}
	if f.Value("swap_out") == "" && f.Value("swap_in") == "" {
		return nil
	}
	return s.askSwap(v, f, d, request, planned)
}

func (s room) askSwap(v *site.Visit, f *site.Form, d map[string]any, request *inventoryv1.PlanBlendRequest, planned []plannedOrder) error {
	out, err := s.scannedAll(v, f.Value("swap_out"))
	if err != nil {
		return err
	}
	in, err := s.scannedAll(v, f.Value("swap_in"))
	if err != nil {
		return err
	}
	n := max(slices.IndexFunc(planned, func(p plannedOrder) bool {
		return slices.ContainsFunc(p.Plan.GetStockItems(), func(name string) bool { return slices.Contains(out, name) })
	}), 0)
	o := planned[n].Plan
	swap, err := s.Inventory.CheckBlendSwap(v.Ctx, &inventoryv1.CheckBlendSwapRequest{
		Order: request.GetOrders()[n], StockItems: o.GetStockItems(), PartItem: o.GetPartItem(), PartWeight: o.GetPartWeight(), OutItems: out, InItems: in,
	})
	if err != nil {
		return err
	}
	d["Swap"] = swap
	if swap.GetAccepted() {
		d["SwapFill"] = "/tanks?" + s.planned(v, planned[n].form, s.BarrelsOf(v, append(swap.GetStockItems(), partOf(o)...))).Encode()
	}
	return nil
}

// badLines is the refusal of pasted lines that cannot be read; the form says which.
func badLines(f *site.Form) error { return apierr.Field("lines", strings.TrimSuffix(f.Problem, ".")) }
