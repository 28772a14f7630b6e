package rpc_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/rpctest"
)

func (h *house) sales(login string, roles ...accessv1.Role) inventoryv1.SalesServiceClient {
	return inventoryv1.NewSalesServiceClient(h.server.As(rpctest.Person(login, roles...)))
}

func dollars(amount string) *typev1.Money {
	return &typev1.Money{Amount: amount, CurrencyCode: "USD"}
}

func TestAnOrderIsFilledByItsShipmentsAndNeverBeyond(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot, desk := f.packed(), f.sales("office1", office)
	know := func(contact string) {
		_, err := desk.RecordCustomer(t.Context(), &inventoryv1.RecordCustomerRequest{
			RequestId: request(), Name: "customers/NORTH-MILL", Title: "North Mill Bakery", Address: "4 Mill Lane, Upper Valley", RecallContact: contact,
		})
		require.NoError(t, err)
	}
	place := &inventoryv1.PlaceOrderRequest{
		RequestId: request(), Customer: "customers/NORTH-MILL", Reference: "PO 4471", DueDate: "2026-10-14",
		Lines: []*inventoryv1.OrderLine{{Label: "labels/CLOVER", Jars: 100}}, Bulk: lb("640.0"),
	}
	_, err := desk.PlaceOrder(t.Context(), place)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "customers/NORTH-MILL"})
	know("desk, 555 0100")
	order, err := desk.PlaceOrder(t.Context(), place)
	require.NoError(t, err)
	_, err = desk.PlaceOrder(t.Context(), &inventoryv1.PlaceOrderRequest{RequestId: request(), Customer: "customers/NORTH-MILL", DueDate: "2026-02-30"})
	rpctest.Faults(t, err, "due_date", "lines")
	for _, day := range []string{"0000-01-01", "0026-12-15", "1899-12-31", "2200-01-01", "9999-12-31"} {
		never := &inventoryv1.PlaceOrderRequest{RequestId: request(), Customer: place.GetCustomer(), DueDate: day, Bulk: lb("640.0")}
		_, err = desk.PlaceOrder(t.Context(), never)
		rpctest.Faults(t, err, "due_date")
		require.ErrorContains(t, err, day+" is not in the years 1900 to 2199")
	}

	ship := func(jars int64, bulk ...*inventoryv1.BulkLine) (*inventoryv1.Shipment, error) {
		req := &inventoryv1.ShipRequest{RequestId: request(), Order: order.GetName(), Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", BulkLines: bulk}
		if jars > 0 {
			req.Lines = []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: jars}}
		}
		return f.line.Ship(t.Context(), req)
	}
	_, err = ship(101)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1", "resource": order.GetName()})
	require.ErrorContains(t, err, "order PO 4471 of NORTH-MILL has 100 jars of label CLOVER left to ship, 1 more cannot leave for it")
	_, err = f.line.Ship(t.Context(), &inventoryv1.ShipRequest{RequestId: request(), Order: order.GetName(), Customer: "Somebody", Carrier: "c", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: 1}}})
	rpctest.Faults(t, err, "customer")
	// Many hands load at once: never more than was asked for.
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() { _, _ = ship(15) })
	}
	wg.Wait()
	read := func() *inventoryv1.Order {
		o, err := f.sales("wh1", warehouse).GetOrder(t.Context(), &inventoryv1.GetOrderRequest{Name: order.GetName()})
		require.NoError(t, err)
		return o
	}
	require.Equal(t, int64(90), read().GetLines()[0].GetShippedJars())
	require.Equal(t, inventoryv1.OrderState_ORDER_STATE_OPEN, read().GetState())
	last, err := ship(10, &inventoryv1.BulkLine{Place: item(3)})
	require.NoError(t, err)
	require.Equal(t, "North Mill Bakery", last.GetCustomer())
	require.Equal(t, order.GetName(), last.GetOrder())
	require.Equal(t, inventoryv1.OrderState_ORDER_STATE_FILLED, read().GetState())
	require.Equal(t, "640.0", read().GetShippedBulk().GetValue())
	_, err = desk.CancelOrder(t.Context(), &inventoryv1.CancelOrderRequest{RequestId: request(), Name: order.GetName(), Reason: "too late"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": order.GetName(), "state": "FILLED"})
	require.ErrorContains(t, err, "order PO 4471 of NORTH-MILL is filled and cannot be cancelled")

	place.RequestId = request()
	order, err = desk.PlaceOrder(t.Context(), place)
	require.NoError(t, err)
	ended, err := desk.CancelOrder(t.Context(), &inventoryv1.CancelOrderRequest{RequestId: request(), Name: order.GetName(), Reason: "they have enough"})
	require.NoError(t, err)
	require.Equal(t, inventoryv1.OrderState_ORDER_STATE_CANCELLED, ended.GetState())
	_, err = ship(1)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CANCELLED"})
	list, err := desk.ListOrders(t.Context(), &inventoryv1.ListOrdersRequest{Customer: "customers/NORTH-MILL", PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, order.GetName(), list.GetOrders()[0].GetName())
	require.NotEmpty(t, list.GetNextPageToken())

	// Whoever recalls knows whom to call, as it is known now.
	know("quality desk, 555 0199 day and night")
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(3)})
	require.NoError(t, err)
	require.Equal(t, "quality desk, 555 0199 day and night", trace.GetCustomers()[0].GetRecallContact())
	known, err := desk.ListCustomers(t.Context(), &inventoryv1.ListCustomersRequest{})
	require.NoError(t, err)
	require.Len(t, known.GetCustomers(), 1)
	f.balanced()

	// What it brought belongs to the honey that was in it: 10 lb of the jars, 640 lb of the barrel.
	sale := &inventoryv1.RecordSaleRequest{
		RequestId: request(), Shipment: last.GetName(), Kind: inventoryv1.SaleKind_SALE_KIND_PROCEEDS, Amount: dollars("1300.01"), Document: "Invoice 2026-114", EntryDate: "2026-10-15",
	}
	sold, err := desk.RecordSale(t.Context(), sale)
	require.NoError(t, err)
	require.Len(t, sold.GetParts(), 1)
	require.Equal(t, "North Mill Bakery", sold.GetCustomer())
	require.Equal(t, []string{"clover", "650.0", "1300.01"}, []string{sold.GetParts()[0].GetVariety(), sold.GetParts()[0].GetMass().GetValue(), sold.GetParts()[0].GetAmount().GetAmount()})
	sale.RequestId = request()
	_, err = desk.RecordSale(t.Context(), sale)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, nil)
	require.ErrorContains(t, err, "for this shipment exists already")
	sale.Shipment, sale.Amount = "shipments/"+request(), dollars("0.00")
	_, err = desk.RecordSale(t.Context(), sale)
	rpctest.Faults(t, err, "amount")
	sale.Amount, sale.EntryDate = dollars("999999999999999.99"), "0000-01-01"
	_, err = desk.RecordSale(t.Context(), sale)
	rpctest.Faults(t, err, "amount.amount", "entry_date")
	sale.Amount, sale.EntryDate = dollars("-5.00"), "2026-10-15"
	_, err = desk.RecordSale(t.Context(), sale)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	sales, err := f.sales("board1", accessv1.Role_ROLE_BOARD).ListSales(t.Context(), &inventoryv1.ListSalesRequest{Shipment: last.GetName()})
	require.NoError(t, err)
	require.Len(t, sales.GetSales(), 1)
	require.Equal(t, "North Mill Bakery", sales.GetSales()[0].GetCustomer(), "the board learns whose money it was")
	require.Equal(t, 1, f.events("SaleRecorded"))
}
