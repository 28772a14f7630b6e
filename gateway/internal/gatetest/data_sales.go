package gatetest

import (
	"context"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// SalesOrderID is an order of which half has left.
const SalesOrderID = "0c0de000-0000-4000-8000-000000000001"

func customer() *inventoryv1.Customer {
	return &inventoryv1.Customer{
		Name: "customers/MARKET-HALL", Title: "Market Hall Larder", Address: "4 Mill Lane, Upper Valley", RecallContact: "quality desk, 555 0199 day and night",
		Recorder: "users/office1", RecordTime: at(time.Hour),
	}
}

// ListCustomers and its neighbours answer for who buys honey.
func (h *House) ListCustomers(ctx context.Context, r *inventoryv1.ListCustomersRequest) (*inventoryv1.ListCustomersResponse, error) {
	return &inventoryv1.ListCustomersResponse{Customers: []*inventoryv1.Customer{customer()}}, h.note(ctx, r)
}

// RecordCustomer notes what is known of one.
func (h *House) RecordCustomer(ctx context.Context, r *inventoryv1.RecordCustomerRequest) (*inventoryv1.Customer, error) {
	return customer(), h.note(ctx, r)
}

func order(id string, state inventoryv1.OrderState) *inventoryv1.Order {
	return &inventoryv1.Order{
		Name: "orders/" + id, Customer: "customers/MARKET-HALL", Reference: "PO 4471", DueDate: "2026-10-14", State: state, Bulk: lb("640.0"), ShippedBulk: lb("0.0"),
		Lines: []*inventoryv1.OrderLine{{Label: "labels/CLOVER-1LB-1", Jars: 1_480, ShippedJars: 1_240}}, Placer: "users/office1", PlaceTime: at(time.Hour),
	}
}

// ListOrders answers an open order and one that was cancelled.
func (h *House) ListOrders(ctx context.Context, r *inventoryv1.ListOrdersRequest) (*inventoryv1.ListOrdersResponse, error) {
	ended := order("0c0de000-0000-4000-8000-000000000002", inventoryv1.OrderState_ORDER_STATE_CANCELLED)
	ended.Canceller, ended.CancelReason = "users/office1", "they have enough"
	return &inventoryv1.ListOrdersResponse{Orders: []*inventoryv1.Order{order(SalesOrderID, inventoryv1.OrderState_ORDER_STATE_OPEN), ended}}, h.note(ctx, r)
}

// GetOrder answers the open order.
func (h *House) GetOrder(ctx context.Context, r *inventoryv1.GetOrderRequest) (*inventoryv1.Order, error) {
	return order(SalesOrderID, inventoryv1.OrderState_ORDER_STATE_OPEN), h.note(ctx, r)
}

// PlaceOrder answers the order.
func (h *House) PlaceOrder(ctx context.Context, r *inventoryv1.PlaceOrderRequest) (*inventoryv1.Order, error) {
	return order(SalesOrderID, inventoryv1.OrderState_ORDER_STATE_OPEN), h.note(ctx, r)
}

// CancelOrder answers it cancelled.
func (h *House) CancelOrder(ctx context.Context, r *inventoryv1.CancelOrderRequest) (*inventoryv1.Order, error) {
	return order(SalesOrderID, inventoryv1.OrderState_ORDER_STATE_CANCELLED), h.note(ctx, r)
}

func sold() *inventoryv1.Sale {
	dollars := func(amount string) *typev1.Money { return &typev1.Money{Amount: amount, CurrencyCode: "USD"} }
	return &inventoryv1.Sale{
		Name: "sales/5a1e0000-0000-4000-8000-000000000001", Shipment: "shipments/5a100000-0000-4000-8000-000000000014", Customer: "Market Hall Larder", Kind: inventoryv1.SaleKind_SALE_KIND_PROCEEDS,
		Amount: dollars("1300.01"), Document: "Invoice 2026-114", EntryDate: "2026-10-15", Recorder: "users/office1", RecordTime: at(time.Hour),
		Parts: []*inventoryv1.SalePart{{Variety: "clover", CropYear: 2026, Mass: lb("600.0"), Amount: dollars("1300.01")}},
	}
}

// ListSales answers one invoice.
func (h *House) ListSales(ctx context.Context, r *inventoryv1.ListSalesRequest) (*inventoryv1.ListSalesResponse, error) {
	return &inventoryv1.ListSalesResponse{Sales: []*inventoryv1.Sale{sold()}}, h.note(ctx, r)
}

// RecordSale answers it.
func (h *House) RecordSale(ctx context.Context, r *inventoryv1.RecordSaleRequest) (*inventoryv1.Sale, error) {
	return sold(), h.note(ctx, r)
}

// ListUnbookedSales answers one part of the pool that is open, and one of none.
func (h *House) ListUnbookedSales(ctx context.Context, r *settlementv1.ListUnbookedSalesRequest) (*settlementv1.ListUnbookedSalesResponse, error) {
	part := func(pool, document string) *settlementv1.UnbookedSale {
		return &settlementv1.UnbookedSale{
			Sale: sold().GetName(), Shipment: sold().GetShipment(), Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, Variety: "clover", CropYear: 2026, Mass: lb("600.0"),
			Amount: sold().GetAmount(), Document: document, EntryDate: "2026-10-15", Pool: pool,
		}
	}
	return &settlementv1.ListUnbookedSalesResponse{Parts: []*settlementv1.UnbookedSale{part("pools/"+PoolID, "Invoice 2026-114"), part("", "Invoice 2026-115")}}, h.note(ctx, r)
}

// BookSales books what there is.
func (h *House) BookSales(ctx context.Context, r *settlementv1.BookSalesRequest) (*settlementv1.BookSalesResponse, error) {
	return &settlementv1.BookSalesResponse{}, h.note(ctx, r)
}
