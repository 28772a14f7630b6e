package web

import (
	"net/url"
	"strings"

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
func (s *site) salesPages() map[string]page {
	return map[string]page{
		"/customers":          {needs: listCustomers, show: s.customers},
		"/customers/new":      {needs: recordCustomer, show: s.newCustomer, form: true},
		"/orders":             {needs: listOrders, show: s.orders},
		"/orders/new":         {needs: placeOrder, show: s.newOrder, form: true},
		"/orders/{id}/cancel": {needs: cancelOrder, show: s.cancelOrder, form: true},
		"/sales":              {needs: listSales, show: s.sold},
		"/sales/new":          {needs: recordSale, show: s.newSale, form: true},
	}
}

func (s *site) customers(v *visit) (view, error) {
	found, err := s.sales.ListCustomers(v.ctx, &inventoryv1.ListCustomersRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "customers", title: "Customers", data: map[string]any{
		"Customers": found.GetCustomers(), "Next": nextPage(v, found.GetNextPageToken()), "MayRecord": v.mayCall(recordCustomer), "MayOrder": v.mayCall(placeOrder),
	}}, nil
}

func (s *site) newCustomer(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "newcustomer", "A customer", map[string]any{}, func() (string, error) {
		_, err := s.sales.RecordCustomer(v.ctx, &inventoryv1.RecordCustomerRequest{
			RequestId: f.RequestID, Name: "customers/" + upper(f.Value("name")), Title: f.Value("title"), Address: f.Value("address"), RecallContact: f.Value("recall_contact"),
		})
		return "/customers", err
	})
}

func (s *site) orders(v *visit) (view, error) {
	found, err := s.sales.ListOrders(v.ctx, &inventoryv1.ListOrdersRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	open := 0
	for _, o := range found.GetOrders() {
		if o.GetState() == inventoryv1.OrderState_ORDER_STATE_OPEN {
			open++
		}
	}
	return view{page: "orders", title: "Orders", data: map[string]any{
		"Orders": found.GetOrders(), "Open": open, "Next": nextPage(v, found.GetNextPageToken()), "MayPlace": v.mayCall(placeOrder), "MayShip": v.mayCall(ship), "MayCancel": v.mayCall(cancelOrder),
	}}, nil
}

// newOrder takes a label and how many jars, one label a line.
func (s *site) newOrder(v *visit) (view, error) {
	f := v.form()
	return s.plainTask(v, f, "neworder", "An order", map[string]any{}, func() (string, error) {
		request := &inventoryv1.PlaceOrderRequest{
			RequestId: f.RequestID, Customer: "customers/" + upper(f.Value("customer")), Reference: f.Value("reference"), DueDate: f.Value("due_date"), Bulk: s.massOr(f.Value("bulk")),
		}
		for n, cells := range linesOf(strings.ReplaceAll(f.Value("lines"), ",", "")) {
			if len(cells) == 1 {
				cells = strings.Fields(cells[0])
			}
			if len(cells) != 2 {
				f.badLine("lines", n, "label and jars")
				return "", badLines(f)
			}
			request.Lines = append(request.Lines, &inventoryv1.OrderLine{Label: "labels/" + upper(cells[0]), Jars: count(cells[1])})
		}
		_, err := s.sales.PlaceOrder(v.ctx, request)
		return "/orders", err
	})
}

// readOrder is an order as it stands; one that cannot be read goes by its name, and what is asked of it is refused.
func (s *site) readOrder(v *visit, name string) *inventoryv1.Order {
	order, err := s.sales.GetOrder(v.ctx, &inventoryv1.GetOrderRequest{Name: name})
	if err != nil {
		return &inventoryv1.Order{Name: name, Customer: thing(name)}
	}
	return order
}

func (s *site) cancelOrder(v *visit) (view, error) {
	f := v.form()
	name := "orders/" + v.PathValue("id")
	return s.plainTask(v, f, "cancelorder", "Cancel an order", map[string]any{"Order": s.readOrder(v, name)}, func() (string, error) {
		_, err := s.sales.CancelOrder(v.ctx, &inventoryv1.CancelOrderRequest{RequestId: f.RequestID, Name: name, Reason: f.Value("reason")})
		return "/orders", err
	})
}

func (s *site) sold(v *visit) (view, error) {
	found, err := s.sales.ListSales(v.ctx, &inventoryv1.ListSalesRequest{PageSize: 50, PageToken: v.URL.Query().Get("page"), Shipment: v.URL.Query().Get("shipment")})
	if err != nil {
		return view{}, err
	}
	return view{page: "sales", title: "Sales", data: map[string]any{
		"Sales": found.GetSales(), "Next": nextPage(v, found.GetNextPageToken()), "Shipment": v.URL.Query().Get("shipment"), "MayRecord": v.mayCall(recordSale),
	}}, nil
}

// customerOf is whom a shipment left for; empty where it cannot be read, and what is asked of it is refused.
func (s *site) customerOf(v *visit, shipment string) string {
	one, err := s.inventory.GetShipment(v.ctx, &inventoryv1.GetShipmentRequest{Name: shipment})
	if err != nil {
		return ""
	}
	return one.GetCustomer()
}

var saleKinds = newOptions("PROCEEDS", "it brought", "EXPENSE", "selling it cost")

func (s *site) newSale(v *visit) (view, error) {
	f := v.form()
	shipment := f.Value("shipment")
	return s.plainTask(v, f, "newsale", "What a shipment brought", map[string]any{"Shipment": shipment, "Customer": s.customerOf(v, shipment), "Kinds": saleKinds}, func() (string, error) {
		_, err := s.sales.RecordSale(v.ctx, &inventoryv1.RecordSaleRequest{
			RequestId: f.RequestID, Shipment: shipment, Kind: inventoryv1.SaleKind(inventoryv1.SaleKind_value["SALE_KIND_"+f.Value("kind")]),
			Amount: s.typedMoney(f.Value("amount")), Document: f.Value("document"), EntryDate: f.Value("entry_date"),
		})
		return "/sales?" + url.Values{"shipment": {shipment}}.Encode(), err
	})
}
