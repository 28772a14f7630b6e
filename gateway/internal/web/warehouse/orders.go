package warehouse

import (
	"net/url"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

const (
	listCustomers  = inventoryv1.SalesService_ListCustomers_FullMethodName
	recordCustomer = inventoryv1.SalesService_RecordCustomer_FullMethodName
	listOrders     = inventoryv1.SalesService_ListOrders_FullMethodName
	placeOrder     = inventoryv1.SalesService_PlaceOrder_FullMethodName
	cancelOrder    = inventoryv1.SalesService_CancelOrder_FullMethodName
	listSales      = inventoryv1.SalesService_ListSales_FullMethodName
	recordSale     = inventoryv1.SalesService_RecordSale_FullMethodName
)

// salesPages are who buys honey, what they ordered, and what it brought.
func (s room) salesPages() map[string]site.Page {
	return map[string]site.Page{
		"/customers":          {Needs: listCustomers, Show: s.customers},
		"/customers/new":      {Needs: recordCustomer, Show: s.newCustomer, Form: true},
		"/orders":             {Needs: listOrders, Show: s.orders},
		"/orders/new":         {Needs: placeOrder, Show: s.newOrder, Form: true},
		"/orders/{id}/cancel": {Needs: cancelOrder, Show: s.cancelOrder, Form: true},
		"/sales":              {Needs: listSales, Show: s.sold},
		"/sales/new":          {Needs: recordSale, Show: s.newSale, Form: true},
	}
}

func (s room) customers(v *site.Visit) (site.View, error) {
	found, err := s.Sales.ListCustomers(v.Ctx, &inventoryv1.ListCustomersRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "customers", Title: "Customers", Data: map[string]any{
		"Customers": found.GetCustomers(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayRecord": v.MayCall(recordCustomer), "MayOrder": v.MayCall(placeOrder),
	}}, nil
}

func (s room) newCustomer(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "newcustomer", "A customer", map[string]any{}, func() (string, error) {
		_, err := s.Sales.RecordCustomer(v.Ctx, &inventoryv1.RecordCustomerRequest{
			RequestId: f.RequestID, Name: "customers/" + site.Upper(f.Value("name")), Title: f.Value("title"), Address: f.Value("address"), RecallContact: f.Value("recall_contact"),
		})
		return "/customers", err
	})
}

func (s room) orders(v *site.Visit) (site.View, error) {
	found, err := s.Sales.ListOrders(v.Ctx, &inventoryv1.ListOrdersRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	open := 0
	for _, o := range found.GetOrders() {
		if o.GetState() == inventoryv1.OrderState_ORDER_STATE_OPEN {
			open++
		}
	}
	return site.View{Page: "orders", Title: "Orders", Data: map[string]any{
		"Orders": found.GetOrders(), "Open": open, "Next": site.NextPage(v, found.GetNextPageToken()), "MayPlace": v.MayCall(placeOrder), "MayShip": v.MayCall(ship), "MayCancel": v.MayCall(cancelOrder),
	}}, nil
}

// newOrder takes a label and how many jars, one label a line.
func (s room) newOrder(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.PlainTask(v, f, "neworder", "An order", map[string]any{}, func() (string, error) {
		request := &inventoryv1.PlaceOrderRequest{
			RequestId: f.RequestID, Customer: "customers/" + site.Upper(f.Value("customer")), Reference: f.Value("reference"), DueDate: f.Value("due_date"), Bulk: s.MassOr(f.Value("bulk")),
		}
		for n, cells := range site.LinesOf(strings.ReplaceAll(f.Value("lines"), ",", "")) {
			if len(cells) == 1 {
				cells = strings.Fields(cells[0])
			}
			if len(cells) != 2 {
				f.BadLine("lines", n, "label and jars")
				return "", badLines(f)
			}
			request.Lines = append(request.Lines, &inventoryv1.OrderLine{Label: "labels/" + site.Upper(cells[0]), Jars: site.Count(cells[1])})
		}
		_, err := s.Sales.PlaceOrder(v.Ctx, request)
		return "/orders", err
	})
}

// readOrder is an order as it stands; one that cannot be read goes by its name, and what is asked of it is refused.
func (s room) readOrder(v *site.Visit, name string) *inventoryv1.Order {
	order, err := s.Sales.GetOrder(v.Ctx, &inventoryv1.GetOrderRequest{Name: name})
	if err != nil {
		return &inventoryv1.Order{Name: name, Customer: site.Thing(name)}
	}
	return order
}

func (s room) cancelOrder(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "orders/" + v.PathValue("id")
	return s.PlainTask(v, f, "cancelorder", "Cancel an order", map[string]any{"Order": s.readOrder(v, name)}, func() (string, error) {
		_, err := s.Sales.CancelOrder(v.Ctx, &inventoryv1.CancelOrderRequest{RequestId: f.RequestID, Name: name, Reason: f.Value("reason")})
		return "/orders", err
	})
}

func (s room) sold(v *site.Visit) (site.View, error) {
	found, err := s.Sales.ListSales(v.Ctx, &inventoryv1.ListSalesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page"), Shipment: v.URL.Query().Get("shipment")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "sales", Title: "Sales", Data: map[string]any{
		"Sales": found.GetSales(), "Next": site.NextPage(v, found.GetNextPageToken()), "Shipment": v.URL.Query().Get("shipment"), "MayRecord": v.MayCall(recordSale),
	}}, nil
}

// customerOf is whom a shipment left for; empty where it cannot be read, and what is asked of it is refused.
func (s room) customerOf(v *site.Visit, shipment string) string {
	one, err := s.Inventory.GetShipment(v.Ctx, &inventoryv1.GetShipmentRequest{Name: shipment})
	if err != nil {
		return ""
	}
	return one.GetCustomer()
}

var saleKinds = site.NewOptions("PROCEEDS", "it brought", "EXPENSE", "selling it cost")

func (s room) newSale(v *site.Visit) (site.View, error) {
	f := v.Form()
	shipment := f.Value("shipment")
	return s.PlainTask(v, f, "newsale", "What a shipment brought", map[string]any{"Shipment": shipment, "Customer": s.customerOf(v, shipment), "Kinds": saleKinds}, func() (string, error) {
		_, err := s.Sales.RecordSale(v.Ctx, &inventoryv1.RecordSaleRequest{
			RequestId: f.RequestID, Shipment: shipment, Kind: inventoryv1.SaleKind(inventoryv1.SaleKind_value["SALE_KIND_"+f.Value("kind")]),
			Amount: s.TypedMoney(f.Value("amount")), Document: f.Value("document"), EntryDate: f.Value("entry_date"),
		})
		return "/sales?" + url.Values{"shipment": {shipment}}.Encode(), err
	})
}
