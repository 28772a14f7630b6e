package rpc

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/page"
	"barrelhead.example/services/kit/wire"
)

// RecordCustomer enters a customer, or what is known of one from now on.
func (s *Server) RecordCustomer(ctx context.Context, req *inventoryv1.RecordCustomerRequest) (*inventoryv1.Customer, error) {
	c := sale.Customer{
		ID: strings.TrimPrefix(req.GetName(), "customers/"), Title: req.GetTitle(), Address: req.GetAddress(), Contact: req.GetRecallContact(),
		Recorder: access.From(ctx).Login,
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Customer, []feed.Fact, error) {
		made, facts, err := s.app.RecordCustomer(ctx, tx, c)
		return present.Customer(made), facts, err
	})
}

// ListCustomers lists customers.
func (s *Server) ListCustomers(ctx context.Context, req *inventoryv1.ListCustomersRequest) (*inventoryv1.ListCustomersResponse, error) {
	after := ""
	size, err := paging(req, &after)
	if err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Customers(ctx, s.app.DB.Pool(), after, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListCustomersResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last sale.Customer) any { return last.ID })
	for _, c := range found {
		answer.Customers = append(answer.Customers, present.Customer(c))
	}
	return answer, nil
}

var errNothingOrdered = errors.New("are empty: name jars under a label, or a weight of honey as it is")

// PlaceOrder enters what a customer asked for.
func (s *Server) PlaceOrder(ctx context.Context, req *inventoryv1.PlaceOrderRequest) (*inventoryv1.Order, error) {
	r := s.reader()
	o := sale.Order{
		Customer: r.word("customer", "customers", req.GetCustomer()), Reference: req.GetReference(), DueDate: r.date("due_date", req.GetDueDate()),
		Bulk: r.optionalMass("bulk", req.GetBulk()), Placer: access.From(ctx).Login,
	}
	seen := map[string]bool{}
	for n, l := range req.GetLines() {
		field := fmt.Sprintf("lines[%d].label", n)
		label := r.word(field, "labels", l.GetLabel())
		if seen[label] {
			r.note(field, fmt.Errorf("%s stands in two lines", l.GetLabel()))
		}
		seen[label] = true
		o.Lines = append(o.Lines, sale.Line{Label: label, Jars: l.GetJars()})
	}
	if len(o.Lines) == 0 && req.GetBulk() == nil {
		r.note("lines", errNothingOrdered)
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Order, []feed.Fact, error) {
		made, facts, err := s.app.PlaceOrder(ctx, tx, o)
		return present.Order(made, s.app.Unit), facts, err
	})
}

// date reads a local date.
func (r *reader) date(field, date string) string {
	r.day(field, date, time.UTC)
	return date
}

// CancelOrder says that nothing more leaves for an order.
func (s *Server) CancelOrder(ctx context.Context, req *inventoryv1.CancelOrderRequest) (*inventoryv1.Order, error) {
	id, err := parseName("name", "orders", req.GetName())
	if err != nil {
		return nil, err
	}
	login := access.From(ctx).Login
	return do(ctx, s, req, func(ctx context.Context, tx pgx.Tx) (*inventoryv1.Order, []feed.Fact, error) {
		ended, facts, err := s.app.CancelOrder(ctx, tx, id, login, req.GetReason())
		return present.Order(ended, s.app.Unit), facts, err
	})
}

// GetOrder reads one order.
func (s *Server) GetOrder(ctx context.Context, req *inventoryv1.GetOrderRequest) (*inventoryv1.Order, error) {
	id, err := parseName("name", "orders", req.GetName())
	if err != nil {
		return nil, err
	}
	o, err := s.app.Lots.Order(ctx, s.app.DB.Pool(), id)
	if err != nil {
		return nil, err
	}
	return present.Order(o, s.app.Unit), nil
}

// ListOrders lists orders.
func (s *Server) ListOrders(ctx context.Context, req *inventoryv1.ListOrdersRequest) (*inventoryv1.ListOrdersResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	r, customer := s.reader(), ""
	if req.GetCustomer() != "" {
		customer = r.word("customer", "customers", req.GetCustomer())
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Orders(ctx, s.app.DB.Pool(), customer, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListOrdersResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last sale.Order) any { return last.Number })
	for _, o := range found {
		answer.Orders = append(answer.Orders, present.Order(o, s.app.Unit))
	}
	return answer, nil
}

// RecordSale enters what a shipment brought or cost.
func (s *Server) RecordSale(ctx context.Context, req *inventoryv1.RecordSaleRequest) (*inventoryv1.Sale, error) {
	r := s.reader()
	amount, err := wire.EnteredFromProto(req.GetAmount(), s.app.Currency)
	if err == nil && amount == 0 {
		err = errors.New("is nothing")
	}
	r.note("amount", err)
	c := sale.Sale{
		Shipment: r.id("shipment", "shipments", req.GetShipment()), Kind: strings.TrimPrefix(req.GetKind().String(), present.SaleKindPrefix), Amount: amount,
		Document: req.GetDocument(), EntryDate: r.date("entry_date", req.GetEntryDate()), Recorder: access.From(ctx).Login,
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	return doWith(ctx, s, req, func(ctx context.Context) ([]sale.Part, error) {
		return s.app.Contents(ctx, c.Shipment)
	}, func(ctx context.Context, tx pgx.Tx, content []sale.Part) (*inventoryv1.Sale, []feed.Fact, error) {
		made, facts, err := s.app.RecordSale(ctx, tx, c, content)
		return present.Sale(made, s.app.Unit, s.app.Currency), facts, err
	})
}

// ListSales lists sales.
func (s *Server) ListSales(ctx context.Context, req *inventoryv1.ListSalesRequest) (*inventoryv1.ListSalesResponse, error) {
	before := newest
	size, err := paging(req, &before)
	if err != nil {
		return nil, err
	}
	r := s.reader()
	shipment := r.optionalID("shipment", "shipments", req.GetShipment())
	if err := r.err(); err != nil {
		return nil, err
	}
	found, err := s.app.Lots.Sales(ctx, s.app.DB.Pool(), shipment, before, size+1)
	if err != nil {
		return nil, err
	}
	answer := &inventoryv1.ListSalesResponse{}
	found, answer.NextPageToken = page.Cut(found, size, req, func(last sale.Sale) any { return last.Number })
	for _, one := range found {
		answer.Sales = append(answer.Sales, present.Sale(one, s.app.Unit, s.app.Currency))
	}
	return answer, nil
}
