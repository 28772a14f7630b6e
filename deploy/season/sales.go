package season

import (
	"context"
	"fmt"
	"slices"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// customer is an invented buyer, and carrier who brings it its honey.
type customer struct {
	name, title, address, contact string
	carrier                       carrier
}

type carrier struct{ name, address, telephone string }

var (
	grocer = customer{
		"customers/CREEKSIDE", "Creekside Grocers", "2 Market Square, Fallow Creek", "quality desk, 555-0100 day and night",
		carrier{"Valley Freight", "9 Depot Road, Fallow Creek", "555-0120"},
	}
	bakery = customer{
		"customers/NORTH-MILL", "North Mill Bakery", "4 Mill Lane, Fallow Creek", "head baker, 555-0107; by night 555-0108",
		carrier{"North Mill's own lorry", "4 Mill Lane, Fallow Creek", "555-0107"},
	}
)

func (b customer) record(request string) *inventoryv1.RecordCustomerRequest {
	return &inventoryv1.RecordCustomerRequest{RequestId: request, Name: b.name, Title: b.title, Address: b.address, RecallContact: b.contact}
}

func (b customer) ship(request string, order *inventoryv1.Order) *inventoryv1.ShipRequest {
	return &inventoryv1.ShipRequest{
		RequestId: request, Order: order.GetName(),
		Carrier: b.carrier.name, CarrierAddress: b.carrier.address, CarrierTelephone: b.carrier.telephone,
	}
}

func (w *warehouse) due() string { return fmt.Sprintf("%d-12-15", w.Season.CropYear) }

// bakeryJars are sold over the bakery's counter; returnedJars is a case the grocer sends back.
const (
	bakeryJars   = 60
	returnedJars = 12
)

// sell takes an order of each customer and ships it: jars on pallets, and whole barrels in bulk with a few jars.
func (w *warehouse) sell(ctx context.Context) error {
	jars := &inventoryv1.PlaceOrderRequest{
		RequestId: w.id("order", grocer.name), Customer: grocer.name, Reference: "PO 4471", DueDate: w.due(),
		Lines: []*inventoryv1.OrderLine{{Label: label, Jars: 2 * palletJars}},
	}
	var order inventoryv1.Order
	var shipment inventoryv1.Shipment
	if err := w.do(ctx, deed{"office", "orders", jars, &order}); err != nil {
		return err
	}
	// One pallet of each lot.
	req := grocer.ship(w.id("ship", grocer.name), &order)
	req.Pallets = []string{w.pallets[0], w.pallets[len(w.pallets)-1]}
	if err := w.do(ctx, deed{"line", "shipments", req, &shipment}); err != nil {
		return err
	}
	w.shipments = append(w.shipments, shipment.GetName())
	bulk, err := w.bulkOrder(ctx)
	if err != nil {
		return err
	}
	name, err := w.shipBulk(ctx, bulk)
	w.shipments = append(w.shipments, name)
	return err
}

// bulkOrder finds the bakery's order, or has it placed for what the planner proposes.
func (w *warehouse) bulkOrder(ctx context.Context) (*inventoryv1.Order, error) {
	reference := fmt.Sprintf("BULK-%d", w.Season.CropYear)
	var page inventoryv1.ListOrdersResponse
	if err := w.sessions["office"].Get(ctx, "/v1/orders?page_size=1000&customer="+bakery.name, &page); err != nil {
		return nil, err
	}
	for _, o := range page.GetOrders() {
		if o.GetReference() == reference {
			return o, nil
		}
	}
	plan, err := w.plan(ctx, &inventoryv1.BlendOrder{
		Id: reference, MinWeight: pounds(12_000), MaxWeight: pounds(13_500), Variety: inBulk, MinSharePercent: "100", MaxMoisturePercent: "18.6",
	})
	if err != nil {
		return nil, err
	}
	var order inventoryv1.Order
	return &order, w.do(ctx, deed{"office", "orders", &inventoryv1.PlaceOrderRequest{
		RequestId: w.id("order", bakery.name), Customer: bakery.name, Reference: reference, DueDate: w.due(), Bulk: plan.GetWeight(),
		Lines: []*inventoryv1.OrderLine{{Label: label, Jars: bakeryJars}},
	}, &order})
}

// shipBulk finds the shipment of the order, or ships the barrels that weigh what was ordered.
func (w *warehouse) shipBulk(ctx context.Context, order *inventoryv1.Order) (string, error) {
	var page inventoryv1.ListShipmentsResponse
	if err := w.sessions["office"].Get(ctx, "/v1/shipments?page_size=1000", &page); err != nil {
		return "", err
	}
	for _, s := range page.GetShipments() {
		if s.GetOrder() == order.GetName() {
			return s.GetName(), nil
		}
	}
	plan, err := w.plan(ctx, &inventoryv1.BlendOrder{
		Id: order.GetReference(), MinWeight: order.GetBulk(), MaxWeight: order.GetBulk(), Variety: inBulk, MinSharePercent: "100", MaxMoisturePercent: "18.6",
	})
	if err != nil {
		return "", err
	}
	req := bakery.ship(w.id("ship", bakery.name), order)
	req.Lines = []*inventoryv1.ShipmentLine{{PackLot: w.last().GetName(), Jars: bakeryJars}}
	for _, item := range plan.GetStockItems() {
		req.BulkLines = append(req.BulkLines, &inventoryv1.BulkLine{Place: item})
	}
	var shipment inventoryv1.Shipment
	err = w.do(ctx, deed{"warehouse", "shipments", req, &shipment})
	return shipment.GetName(), err
}

// takeBack receives a case of jars, and the office decides what becomes of it.
func (w *warehouse) takeBack(ctx context.Context) error {
	var back inventoryv1.ReceiveReturnResponse
	if err := w.do(ctx, deed{"warehouse", "returns", &inventoryv1.ReceiveReturnRequest{
		RequestId: w.id("return"), Shipment: w.shipments[0], Place: w.last().GetName(), Jars: returnedJars, Reason: "delivered a case too many to one shop",
	}, &back}); err != nil {
		return err
	}
	name := back.GetReturns()[0].GetName()
	return w.do(ctx, deed{"office", name + ":decide", &inventoryv1.DecideReturnRequest{
		RequestId: w.id("decide return"), Name: name, Outcome: inventoryv1.ReturnOutcome_RETURN_OUTCOME_RESTOCKED, Reason: "seals unbroken, kept cool",
	}, &inventoryv1.CustomerReturn{}})
}

// book records what the shipments brought and cost, and enters it on the account of the pool whose honey it was. The pool stays open:
// what members are paid does not change.
func (w *warehouse) book(ctx context.Context) error {
	year := w.Season.CropYear
	var documents []string
	parts := 0
	for i, s := range []struct {
		kind  inventoryv1.SaleKind
		cents int64
		paper string
	}{
		{inventoryv1.SaleKind_SALE_KIND_PROCEEDS, 7_680_00, "Invoice %d-114"},
		{inventoryv1.SaleKind_SALE_KIND_PROCEEDS, 2_140_00, "Invoice %d-115"},
		{inventoryv1.SaleKind_SALE_KIND_EXPENSE, 312_50, "Freight bill %d-77"},
	} {
		documents = append(documents, fmt.Sprintf(s.paper, year))
		var sale inventoryv1.Sale
		if err := w.do(ctx, deed{"office", "sales", &inventoryv1.RecordSaleRequest{
			RequestId: w.id("sale", i), Shipment: w.shipments[i%2], Kind: s.kind, Amount: dollars(s.cents), Document: documents[i], EntryDate: w.due(),
		}, &sale}); err != nil {
			return err
		}
		parts += len(sale.GetParts())
	}
	var pool settlementv1.Pool
	if err := w.do(ctx, deed{"office", "pools", &settlementv1.OpenPoolRequest{
		RequestId: w.id("pool"), Pool: &settlementv1.Pool{CropYear: year, Title: fmt.Sprintf("Table honey %d", year), Differentials: differentials()},
	}, &pool}); err != nil {
		return err
	}
	booked, err := w.booked(ctx, pool.GetName(), documents)
	if err != nil || booked {
		return err
	}
	err = w.until(ctx, "the settlement to hear of the sales", func() (bool, error) {
		var page settlementv1.ListUnbookedSalesResponse
		err := w.sessions["office"].Get(ctx, "/v1/unbookedSales?page_size=1000", &page)
		there := slices.DeleteFunc(page.GetParts(), func(p *settlementv1.UnbookedSale) bool { return !slices.Contains(documents, p.GetDocument()) })
		return len(there) == parts, err
	})
	if err != nil {
		return err
	}
	return w.do(ctx, deed{"office", pool.GetName() + ":bookSales", &settlementv1.BookSalesRequest{
		RequestId: w.id("book"), Pool: pool.GetName(),
	}, &settlementv1.BookSalesResponse{}})
}

// booked tells whether the papers are on the account already: they are entered together.
func (w *warehouse) booked(ctx context.Context, pool string, documents []string) (bool, error) {
	var page settlementv1.ListPoolEntriesResponse
	err := w.sessions["office"].Get(ctx, "/v1/"+pool+"/entries?page_size=1000", &page)
	return slices.ContainsFunc(page.GetEntries(), func(e *settlementv1.PoolEntry) bool { return slices.Contains(documents, e.GetDocument()) }), err
}
