package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// AddCustomer records what is known of a customer from now on.
func (Store) AddCustomer(ctx context.Context, q pg.Querier, c sale.Customer) error {
	_, err := q.Exec(ctx, `INSERT INTO customer_detail (customer, title, address, recall_contact, recorder, record_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		c.ID, c.Title, c.Address, c.Contact, c.Recorder, c.Time)
	return wrap("record customer", err)
}

func scanCustomer(row pgx.CollectableRow) (sale.Customer, error) {
	var c sale.Customer
	err := row.Scan(&c.Number, &c.ID, &c.Title, &c.Address, &c.Contact, &c.Recorder, &c.Time)
	c.Time = utc(c.Time)
	return c, err
}

const customerColumns = `SELECT DISTINCT ON (customer COLLATE "C") number, customer, title, address, recall_contact, recorder, record_time FROM customer_detail`

// Customer reads the newest that is known of one.
func (Store) Customer(ctx context.Context, q pg.Querier, id string) (sale.Customer, error) {
	rows, err := q.Query(ctx, customerColumns+` WHERE customer = $1 ORDER BY customer COLLATE "C", number DESC`, id)
	if err != nil {
		return sale.Customer{}, fmt.Errorf("read customer: %w", err)
	}
	c, err := pgx.CollectExactlyOneRow(rows, scanCustomer)
	return c, found(err, "customers/"+id, "read customer")
}

// Customers lists them by id.
func (Store) Customers(ctx context.Context, q pg.Querier, after string, limit int) ([]sale.Customer, error) {
	return customers(ctx, q, customerColumns+` WHERE customer COLLATE "C" > $1 ORDER BY customer COLLATE "C", number DESC LIMIT $2`, after, limit)
}

// CustomersNamed reads the newest that is known of several.
func (Store) CustomersNamed(ctx context.Context, q pg.Querier, ids []string) ([]sale.Customer, error) {
	return customers(ctx, q, customerColumns+` WHERE customer = ANY($1) ORDER BY customer COLLATE "C", number DESC`, ids)
}

// CustomersCalled reads those whose newest record calls them so.
func (Store) CustomersCalled(ctx context.Context, q pg.Querier, title string) ([]sale.Customer, error) {
	return customers(ctx, q, `SELECT * FROM (`+customerColumns+` ORDER BY customer COLLATE "C", number DESC) c WHERE title = $1`, title)
}

func customers(ctx context.Context, q pg.Querier, sql string, args ...any) ([]sale.Customer, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("read customers: %w", err)
	}
	out, err := pgx.CollectRows(rows, scanCustomer)
	return out, wrap("read customers", err)
}

// AddOrder records an order.
func (Store) AddOrder(ctx context.Context, q pg.Querier, o sale.Order) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO sales_order (sales_order, customer, reference, due_date, bulk, placer, place_time) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		o.ID, o.Customer, o.Reference, o.DueDate, o.Bulk, o.Placer, o.Time)
	for n, l := range o.Lines {
		b.Queue(`INSERT INTO sales_order_line (sales_order, line, label, jars) VALUES ($1, $2, $3, $4)`, o.ID, n+1, l.Label, l.Jars)
	}
	return wrap("place order", q.SendBatch(ctx, b).Close())
}

const orderColumns = `
SELECT o.sales_order, o.number, o.customer, o.reference, o.due_date::text, o.bulk,
       coalesce((SELECT sum(x.mass) FROM shipment_order so JOIN shipment_bulk x USING (shipment) WHERE so.sales_order = o.sales_order), 0)::bigint,
       ARRAY(SELECT l.label FROM sales_order_line l WHERE l.sales_order = o.sales_order ORDER BY l.line),
       ARRAY(SELECT l.jars FROM sales_order_line l WHERE l.sales_order = o.sales_order ORDER BY l.line),
       ARRAY(SELECT coalesce((SELECT sum(x.jars) FROM shipment_order so JOIN shipment_line x USING (shipment) JOIN pack_lot r USING (pack_lot)
                              WHERE so.sales_order = o.sales_order AND r.label = l.label), 0)::bigint
             FROM sales_order_line l WHERE l.sales_order = o.sales_order ORDER BY l.line),
       o.placer, o.place_time, coalesce(e.canceller, ''), coalesce(e.reason, ''), coalesce(e.cancel_time, o.place_time)
FROM sales_order o LEFT JOIN sales_order_cancel e USING (sales_order)`

func scanOrder(row pgx.CollectableRow) (sale.Order, error) {
	var o sale.Order
	var labels []string
	var jars, shipped []int64
	err := row.Scan(&o.ID, &o.Number, &o.Customer, &o.Reference, &o.DueDate, &o.Bulk, &o.ShippedBulk, &labels, &jars, &shipped, &o.Placer, &o.Time,
		&o.Canceller, &o.WhyEnded, &o.EndTime)
	o.Time, o.EndTime = utc(o.Time), utc(o.EndTime)
	for n := range labels {
		o.Lines = append(o.Lines, sale.Line{Label: labels[n], Jars: jars[n], Shipped: shipped[n]})
	}
	return o, err
}

// LockOrder waits for its lock before it reads.
func (s Store) LockOrder(ctx context.Context, q pg.Querier, id uuid.UUID) (sale.Order, error) {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended($1, 0))`, sale.Order{ID: id}.Name()); err != nil {
		return sale.Order{}, fmt.Errorf("lock order: %w", err)
	}
	return s.Order(ctx, q, id)
}

// Order reads one.
func (Store) Order(ctx context.Context, q pg.Querier, id uuid.UUID) (sale.Order, error) {
	rows, err := q.Query(ctx, orderColumns+` WHERE o.sales_order = $1`, id)
	if err != nil {
		return sale.Order{}, fmt.Errorf("read order: %w", err)
	}
	o, err := pgx.CollectExactlyOneRow(rows, scanOrder)
	return o, found(err, sale.Order{ID: id}.Name(), "read order")
}

// Orders lists orders, newest first.
func (Store) Orders(ctx context.Context, q pg.Querier, customer string, before int64, limit int) ([]sale.Order, error) {
	var w where
	w.add("o.number < %s", before)
	w.equal("o.customer", customer, customer != "")
	rows, err := q.Query(ctx, orderColumns+w.sql()+" ORDER BY o.number DESC LIMIT "+w.arg(limit), w.args...)
	if err != nil {
		return nil, fmt.Errorf("list orders: %w", err)
	}
	out, err := pgx.CollectRows(rows, scanOrder)
	return out, wrap("list orders", err)
}

// CancelOrder records that nothing more leaves for one.
func (Store) CancelOrder(ctx context.Context, q pg.Querier, o sale.Order) error {
	_, err := q.Exec(ctx, `INSERT INTO sales_order_cancel (sales_order, canceller, reason, cancel_time) VALUES ($1, $2, $3, $4)`, o.ID, o.Canceller, o.WhyEnded, o.EndTime)
	return wrap("cancel order", err)
}

// AddSale records one and learns for whom the shipment left.
func (Store) AddSale(ctx context.Context, q pg.Querier, s *sale.Sale) error {
	varieties, years, masses, amounts := []string{}, []int32{}, []int64{}, []int64{}
	for _, p := range s.Parts {
		varieties, years, masses, amounts = append(varieties, p.Variety), append(years, p.CropYear), append(masses, int64(p.Mass)), append(amounts, int64(p.Amount))
	}
	err := q.QueryRow(ctx, `
		INSERT INTO sale (sale, shipment, kind, amount, document, entry_date, varieties, crop_years, masses, amounts, recorder, record_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)
		RETURNING (SELECT h.customer FROM shipment h WHERE h.shipment = $2)`,
		s.ID, s.Shipment, s.Kind, s.Amount, s.Document, s.EntryDate, varieties, years, masses, amounts, s.Recorder, s.Time).Scan(&s.Customer)
	return wrap("record sale", pg.Named(err, map[string]error{
		"sale_once": &app.ExistsError{Resource: s.Document + " for shipments/" + s.Shipment.String(), Called: s.Document + " for this shipment"},
	}))
}

// Sales lists them, newest first.
func (Store) Sales(ctx context.Context, q pg.Querier, shipment uuid.UUID, before int64, limit int) ([]sale.Sale, error) {
	var w where
	w.add("s.number < %s", before)
	w.equal("s.shipment", shipment, shipment != uuid.Nil)
	rows, err := q.Query(ctx, `
		SELECT s.sale, s.number, s.shipment, h.customer, s.kind, s.amount, s.document, s.entry_date::text, s.varieties, s.crop_years, s.masses, s.amounts,
		       s.recorder, s.record_time FROM sale s JOIN shipment h USING (shipment)`+
		w.sql()+" ORDER BY s.number DESC LIMIT "+w.arg(limit), w.args...)
	if err != nil {
		return nil, fmt.Errorf("list sales: %w", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (sale.Sale, error) {
		var s sale.Sale
		var varieties []string
		var years []int32
		var masses, amounts []int64
		var at time.Time
		err := row.Scan(&s.ID, &s.Number, &s.Shipment, &s.Customer, &s.Kind, &s.Amount, &s.Document, &s.EntryDate, &varieties, &years, &masses, &amounts, &s.Recorder, &at)
		s.Time = utc(at)
		for n := range varieties {
			s.Parts = append(s.Parts, sale.Part{Variety: varieties[n], CropYear: years[n], Mass: quantity.Mass(masses[n]), Amount: quantity.Money(amounts[n])})
		}
		return s, err
	})
	return out, wrap("list sales", err)
}
