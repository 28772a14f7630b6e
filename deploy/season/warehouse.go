package season

import (
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/quantity"
)

// The names of what the warehouse chapter works with. The GTIN is of the prefix GS1 demonstrates with, which no company has.
const (
	packed  = "clover"
	inBulk  = "goldenrod"
	tank    = "tanks/T1"
	label   = "labels/CLOVER-1LB-1"
	gtin    = "614141000012"
	line    = "L1"
	hotRoom = "FC-HR1"
	// stays is what a drum keeps of its honey when it is drained, in tenths of a pound; common practice, no source.
	stays = 15
)

// run is one charge of the tank and the jars that are made of it. Weights are in tenths of a pound.
type run struct {
	least, most int64 // what is planned into the tank, beside its heel
	draw        int64
	jars        int64 // of 1.004 lb
	losses      []loss
	pallets     int // of 1,200 jars
}

type loss struct {
	code   inventoryv1.LossCode
	tenths int64
	reason string
}

// runs leave a heel each, so that the second lot holds honey of the first charge. Jars times their mean weight are what was drawn less
// the losses, to the tenth. About 98.6 percent of what is drawn ends in jars; 97 to 99 is common practice, no source.
var runs = []run{
	{31_000, 33_000, 29_500, 2_900, []loss{
		{inventoryv1.LossCode_LOSS_CODE_FLUSH, 200, "line flushed at the start"},
		{inventoryv1.LossCode_LOSS_CODE_FILTER, 124, "stayed in the strainer"},
		{inventoryv1.LossCode_LOSS_CODE_SAMPLE, 60, "jars kept for the laboratory"},
	}, 2},
	{12_000, 13_500, 13_000, 1_275, []loss{
		{inventoryv1.LossCode_LOSS_CODE_FLUSH, 149, "line flushed at the start"},
		{inventoryv1.LossCode_LOSS_CODE_SAMPLE, 50, "jars kept for the laboratory"},
	}, 1},
}

// deed is one thing somebody does, with where its answer goes.
type deed struct {
	login, path string
	req, resp   proto.Message
}

func (c *Crew) do(ctx context.Context, deeds ...deed) error {
	for _, d := range deeds {
		if err := c.sessions[d.login].Post(ctx, "/v1/"+d.path, d.req, d.resp); err != nil {
			return fmt.Errorf("%s: %w", d.login, err)
		}
	}
	return nil
}

// warehouse works the chapter after the season: honey becomes jars, jars leave, and both can be traced. What it chooses (barrels by
// the planner's answer, the time of a stay) is read back from the charge, order or shipment that records it, so that a chapter
// that was interrupted goes on with what it had chosen, and one that is worked again changes nothing.
type warehouse struct {
	*Crew
	charges   []string
	lots      []*inventoryv1.PackLot
	pallets   []string
	shipments []string
}

// PackHoney packs, sells and traces some of the season's honey, once everything is priced and the screen for residues is over. A
// season with too little honey stops where there is no plan: the planner's reason is the error.
func (c *Crew) PackHoney(ctx context.Context) (*Packed, error) {
	w := &warehouse{Crew: c}
	for _, step := range []func(context.Context) error{w.screened, w.hold, w.equip, w.pack, w.sell, w.takeBack, w.book} {
		if err := step(ctx); err != nil {
			return nil, fmt.Errorf("warehouse: %w", err)
		}
	}
	return w.trace(ctx)
}

func (w *warehouse) id(step ...any) string {
	return RequestID(append([]any{"warehouse", w.Season.CropYear}, step...)...)
}

// until asks again and again, for what a neighbour's feed brings.
func (c *Crew) until(ctx context.Context, what string, so func() (bool, error)) error {
	deadline := time.Now().Add(c.sessions["admin"].client.Patience)
	for {
		if done, err := so(); done || err != nil {
			return err
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("still waiting for %s", what)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// screened waits until the warehouse knows which barrels of the composite are cleared: until then the planner leaves them out.
func (w *warehouse) screened(ctx context.Context) error {
	var items []string
	for _, d := range w.Season.Deliveries[:min(inOrder, len(w.Season.Deliveries))] {
		for i, b := range d.Barrels {
			if b.Variety == screened {
				items = append(items, w.item(d, i))
			}
		}
	}
	if items = items[:min(len(items), mostScreened)]; len(items) < 2 {
		return nil
	}
	return w.until(ctx, "the screen for residues", func() (bool, error) {
		var page inventoryv1.ListHoldsResponse
		if err := w.sessions["warehouse"].Get(ctx, "/v1/holds?page_size=1000", &page); err != nil {
			return false, err
		}
		cleared := 0
		for _, h := range page.GetHolds() {
			if h.GetPlacer() == "grading" && h.GetReleaser() != "" && slices.Contains(items, h.GetStockItem()) {
				cleared++
			}
		}
		return cleared >= len(items)-1, nil
	})
}

func (c *Crew) item(d Delivery, i int) string {
	return "stock/" + RequestID("barrel name", c.Season.CropYear, d.Index, i)
}

// hold keeps a wet barrel back for good: nobody releases it, so no plan uses it.
func (w *warehouse) hold(ctx context.Context) error {
	if len(w.Season.Deliveries) < 3 {
		return nil
	}
	item := w.item(w.Season.Deliveries[2], 1)
	return w.do(ctx, deed{"warehouse", item + "/holds", &inventoryv1.PlaceHoldRequest{
		RequestId: w.id("hold"), StockItem: item, Code: inventoryv1.HoldCode_HOLD_CODE_FERMENTATION, Reason: "foam under the lid, vented",
	}, &inventoryv1.Hold{}})
}

// rules are the label's. Plans keep a little inside them, since a drum does not drain to the last pound.
var rules = &inventoryv1.ClaimRules{Variety: packed, MinSharePercent: "75", MaxMoisturePercent: "18.6", MaxPfundMm: "50"}

// equip enters what the house works with.
func (w *warehouse) equip(ctx context.Context) error {
	once := func(what string) string { return RequestID("warehouse", what) }
	return w.do(ctx,
		deed{"office", "tanks", &inventoryv1.CreateTankRequest{RequestId: once(tank), TankId: "T1", Capacity: pounds(80_000)}, &inventoryv1.Tank{}},
		deed{"office", "labels", &inventoryv1.CreateLabelRequest{
			RequestId: once(label), LabelId: "CLOVER-1LB-1", Title: "Clover honey 1 lb", Rules: rules, ShelfLifeMonths: 24,
			Face: &inventoryv1.LabelFace{
				Gtin: gtin, NetOunces: "16", NetGrams: "454", Origin: "Product of USA", InfantCaution: true,
				Claims: []inventoryv1.LabelClaim{inventoryv1.LabelClaim_LABEL_CLAIM_FLORAL_SOURCE},
			},
		}, &inventoryv1.Label{}},
		deed{"lead", label + ":approve", &inventoryv1.ApproveLabelRequest{
			RequestId: once("approve"), Name: label, Evidence: "floral source by the harvest declarations and the blend plan of each charge",
		}, &inventoryv1.Label{}},
		deed{"office", grocer.name + ":record", grocer.record(once(grocer.name)), &inventoryv1.Customer{}},
		deed{"office", bakery.name + ":record", bakery.record(once(bakery.name)), &inventoryv1.Customer{}},
	)
}

// charge fills the tank for a run, with the barrels the planner chooses.
func (w *warehouse) charge(ctx context.Context, n int) error {
	name, err := w.open(ctx, n)
	if err != nil {
		return err
	}
	w.charges = append(w.charges, name)
	var charge inventoryv1.Charge
	if err := w.sessions["warehouse"].Get(ctx, "/v1/"+name, &charge); err != nil {
		return err
	}
	// All of what was left of the charge before is in this one.
	if before := charge.GetPrevious(); before != "" {
		if err := w.do(ctx, deed{"warehouse", before + ":close", &inventoryv1.CloseChargeRequest{RequestId: w.id("close", before), Name: before}, &inventoryv1.Charge{}}); err != nil {
			return err
		}
	}
	if err := w.warm(ctx, &charge); err != nil {
		return err
	}
	for _, item := range charge.GetOpenPicks() {
		if err := w.drain(ctx, name, item); err != nil {
			return err
		}
	}
	return nil
}

// open finds the n-th charge of the tank, or plans and opens it.
func (w *warehouse) open(ctx context.Context, n int) (string, error) {
	var page inventoryv1.ListChargesResponse
	if err := w.sessions["warehouse"].Get(ctx, "/v1/charges?page_size=1000&tank="+tank, &page); err != nil {
		return "", err
	}
	if found := page.GetCharges(); len(found) > n {
		return found[len(found)-1-n].GetName(), nil // newest first
	}
	plan, err := w.plan(ctx, &inventoryv1.BlendOrder{
		Id: fmt.Sprint("run ", n+1), MinWeight: pounds(runs[n].least), MaxWeight: pounds(runs[n].most), Variety: packed, MinSharePercent: "80",
		MaxMoisturePercent: "18.4", MaxPfundMm: "48",
	})
	if err != nil {
		return "", err
	}
	var tanks inventoryv1.ListTanksResponse
	if err := w.sessions["warehouse"].Get(ctx, "/v1/tanks", &tanks); err != nil {
		return "", err
	}
	heel := pounds(0)
	for _, t := range tanks.GetTanks() {
		if t.GetName() == tank {
			heel = t.GetContent()
		}
	}
	var charge inventoryv1.Charge
	err = w.do(ctx, deed{"warehouse", "charges", &inventoryv1.OpenChargeRequest{
		RequestId: w.id("charge", n), Tank: tank, Heel: heel, Rules: rules, Picks: plan.GetStockItems(),
	}, &charge})
	return charge.GetName(), err
}

// plan asks for the barrels of one order that give away least, at the prices members are paid.
func (w *warehouse) plan(ctx context.Context, order *inventoryv1.BlendOrder) (*inventoryv1.BlendOrderPlan, error) {
	req := &inventoryv1.PlanBlendRequest{Orders: []*inventoryv1.BlendOrder{order}, GapMillionths: 1_000}
	// The first value that fits counts, and a schedule names its special sources last.
	for _, row := range slices.Backward(Schedule(w.Season.CropYear).GetRows()) {
		if row.GetGrade() == "A" {
			req.Values = append(req.Values, &inventoryv1.BlendValue{Variety: row.GetVariety(), ColorClass: row.GetColorClass(), Price: row.GetAdvance()})
		}
	}
	var plan inventoryv1.BlendPlan
	if err := w.do(ctx, deed{"warehouse", "stock:planBlend", req, &plan}); err != nil {
		return nil, err
	}
	answer := plan.GetOrders()[0]
	if len(answer.GetStockItems()) == 0 {
		return nil, &NoPlanError{answer.GetExplanation()}
	}
	return answer, nil
}

// NoPlanError means that the season's honey is not enough for what is to be packed or sold.
type NoPlanError struct{ Explanation string }

func (e *NoPlanError) Error() string { return "no plan: " + e.Explanation }

// warm brings the barrels of a charge into the hot room and records its log: a day that ended when the charge was opened, read every
// quarter of an hour.
func (w *warehouse) warm(ctx context.Context, charge *inventoryv1.Charge) error {
	picks := charge.GetOpenPicks()
	if len(picks) == 0 {
		return nil
	}
	var logs inventoryv1.ListTemperaturesResponse
	if err := w.sessions["warehouse"].Get(ctx, "/v1/"+picks[0]+"/temperatures", &logs); err != nil || len(logs.GetLogs()) > 0 {
		return err
	}
	for _, item := range picks {
		if err := w.do(ctx, deed{"warehouse", item + ":move", &inventoryv1.MoveBarrelRequest{
			RequestId: w.id("hot room", item), Name: item, Location: hotRoom,
		}, &inventoryv1.StockItem{}}); err != nil {
			return err
		}
	}
	end := charge.GetOpenTime().AsTime().Truncate(time.Minute)
	stay := fmt.Sprintf("heatStays/HR1-%s-%d", end.Format("060102"), len(w.charges))
	return w.do(ctx, deed{"warehouse", stay + ":record", &inventoryv1.RecordTemperaturesRequest{
		RequestId: w.id("warm", charge.GetName()), Name: stay, Warmed: picks, Probe: "P1", Readings: probe(end), LimitCelsius: "49.0",
	}, &inventoryv1.RecordTemperaturesResponse{}})
}

// probe is a day in a hot room: it warms up to 44 °C and swings about it as the heater goes on and off.
func probe(end time.Time) []*inventoryv1.TemperatureReading {
	const day = 24 * 4
	var out []*inventoryv1.TemperatureReading
	for i := range day + 1 {
		tenths := min(260+8*i, 440) + []int{0, 4, 7, 3, -2}[i%5]
		out = append(out, &inventoryv1.TemperatureReading{
			Time: timestamppb.New(end.Add(time.Duration(i-day) * 15 * time.Minute)), Celsius: fmt.Sprintf("%d.%d", tenths/10, tenths%10),
		})
	}
	return out
}

// drain empties a barrel into the tank: what stays in the drum is booked as lost.
func (w *warehouse) drain(ctx context.Context, charge, item string) error {
	var barrel inventoryv1.StockItem
	if err := w.sessions["warehouse"].Get(ctx, "/v1/"+item, &barrel); err != nil {
		return err
	}
	left, err := quantity.ParseMass(barrel.GetRemaining().GetValue())
	if err != nil {
		return err
	}
	mass := &typev1.Mass{Value: (left - stays*100).String(), Unit: barrel.GetRemaining().GetUnit()}
	return w.do(ctx, deed{"warehouse", charge + ":fill", &inventoryv1.FillChargeRequest{
		RequestId: w.id("fill", item), Name: charge, StockItem: item, Mass: mass, Drained: true,
	}, &inventoryv1.Charge{}})
}
