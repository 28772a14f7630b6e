package app

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Sales is where customers, orders and sales are kept. What is not there is a *stock.NotFoundError.
type Sales interface {
	AddCustomer(ctx context.Context, q pg.Querier, c sale.Customer) error
	// Customer reads what is known of one now.
	Customer(ctx context.Context, q pg.Querier, id string) (sale.Customer, error)
	// Customers lists those after an id.
	Customers(ctx context.Context, q pg.Querier, after string, limit int) ([]sale.Customer, error)
	// CustomersNamed reads what is known of several now.
	CustomersNamed(ctx context.Context, q pg.Querier, ids []string) ([]sale.Customer, error)
	// CustomersCalled reads those that are called just so now.
	CustomersCalled(ctx context.Context, q pg.Querier, title string) ([]sale.Customer, error)

	AddOrder(ctx context.Context, q pg.Querier, o sale.Order) error
	// LockOrder keeps others from shipping for an order or cancelling it.
	LockOrder(ctx context.Context, q pg.Querier, id uuid.UUID) (sale.Order, error)
	Order(ctx context.Context, q pg.Querier, id uuid.UUID) (sale.Order, error)
	// Orders lists those numbered below before, newest first.
	Orders(ctx context.Context, q pg.Querier, customer string, before int64, limit int) ([]sale.Order, error)
	CancelOrder(ctx context.Context, q pg.Querier, o sale.Order) error

	// AddSale fails with *ExistsError for a document entered before, and says for whom the shipment left.
	AddSale(ctx context.Context, q pg.Querier, s *sale.Sale) error
	// Sales lists those numbered below before, newest first; the zero uuid is of every shipment.
	Sales(ctx context.Context, q pg.Querier, shipment uuid.UUID, before int64, limit int) ([]sale.Sale, error)
}

// RecordCustomer records what is known of a customer from now on.
func (a *App) RecordCustomer(ctx context.Context, tx pgx.Tx, c sale.Customer) (sale.Customer, []feed.Fact, error) {
	c.Time = a.now()
	if err := a.Lots.AddCustomer(ctx, tx, c); err != nil {
		return c, nil, err
	}
	return c, []feed.Fact{{Aggregate: c.Name(), OccurTime: c.Time, Payload: &inventoryv1.CustomerRecorded{Customer: present.Customer(c)}}}, nil
}

// PlaceOrder records what a customer asked for.
func (a *App) PlaceOrder(ctx context.Context, tx pgx.Tx, o sale.Order) (sale.Order, []feed.Fact, error) {
	if _, err := a.Lots.Customer(ctx, tx, o.Customer); err != nil {
		return o, nil, err
	}
	for _, l := range o.Lines {
		if _, err := a.Lots.Label(ctx, tx, l.Label); err != nil {
			return o, nil, err
		}
	}
	o.ID, o.Time = uuid.New(), a.now()
	if err := a.Lots.AddOrder(ctx, tx, o); err != nil {
		return o, nil, err
	}
	return o, []feed.Fact{{Aggregate: o.Name(), OccurTime: o.Time, Payload: &inventoryv1.OrderPlaced{Order: present.Order(o, a.Unit)}}}, nil
}

// CancelOrder records that nothing more leaves for an order.
func (a *App) CancelOrder(ctx context.Context, tx pgx.Tx, id uuid.UUID, actor, reason string) (sale.Order, []feed.Fact, error) {
	o, err := a.Lots.LockOrder(ctx, tx, id)
	if err != nil {
		return o, nil, err
	}
	if err := o.Must("cancelled"); err != nil {
		return o, nil, err //nolint:wrapcheck // says what it is
	}
	o.Canceller, o.WhyEnded, o.EndTime = actor, reason, a.now()
	if err := a.Lots.CancelOrder(ctx, tx, o); err != nil {
		return o, nil, err
	}
	return o, []feed.Fact{{Aggregate: o.Name(), OccurTime: o.EndTime, Payload: &inventoryv1.OrderCancelled{Order: present.Order(o, a.Unit)}}}, nil
}

// forOrder locks the order a shipment names and takes its customer.
func (w *work) forOrder(s *Shipment) (sale.Order, error) {
	o, err := w.Lots.LockOrder(w.ctx, w.tx, s.Order)
	if err != nil {
		return o, err
	}
	c, err := w.Lots.Customer(w.ctx, w.tx, o.Customer)
	if err != nil {
		return o, err
	}
	s.Customer, s.Known = c.Title, c.ID
	return o, sale.Calling(c, c.Title, s.Contact) //nolint:wrapcheck // says what is asked for
}

// forCustomer finds the customer on record a shipment names, by id or by what it is called, and whom to call where there is none.
// What several are called is none of them.
func (w *work) forCustomer(s *Shipment) error {
	var c sale.Customer
	if id, named := strings.CutPrefix(s.Customer, "customers/"); named {
		var err error
		if c, err = w.Lots.Customer(w.ctx, w.tx, id); err != nil {
			return err
		}
	} else if called, err := w.Lots.CustomersCalled(w.ctx, w.tx, s.Customer); err != nil {
		return err
	} else if len(called) == 1 {
		c = called[0]
	}
	if c.ID != "" {
		s.Customer, s.Known = c.Title, c.ID
	}
	return sale.Calling(c, s.Customer, s.Contact) //nolint:wrapcheck // says what is asked for
}

// within fails where a shipment has more than is left of its order.
func (w *work) within(o sale.Order, s Shipment) error {
	jars := map[string]int64{}
	for _, l := range s.Lines {
		r, err := w.Lots.Run(w.ctx, w.tx, l.Lot)
		if err != nil {
			return err
		}
		jars[r.Label] += l.Jars
	}
	var bulk quantity.Mass
	for _, b := range s.Bulk {
		bulk += b.Mass
	}
	return o.Ship(jars, bulk, w.Unit) //nolint:wrapcheck // gives the numbers
}

// Contents is what a shipment was made of, by source and crop year. What left never changes, so it is read before the sale is saved: a
// snapshot within the transaction takes a second connection, and sales that hold one each would wait for one another.
func (a *App) Contents(ctx context.Context, shipment uuid.UUID) (content []sale.Part, err error) {
	err = a.DB.InSnapshot(ctx, func(ctx context.Context, snapshot pgx.Tx) error {
		trace, err := a.follow(ctx, snapshot, lots.Of(lots.Shipment, shipment))
		if err != nil {
			return err
		}
		t := Traced{Trace: trace}
		if err := a.explain(ctx, snapshot, &t); err != nil {
			return err
		}
		for _, part := range t.Sources {
			b := t.Barrels[part.Place]
			content = append(content, sale.Part{Variety: b.Variety, CropYear: b.CropYear, Mass: part.Mass})
		}
		return nil
	})
	return content, err
}

// RecordSale enters what a shipment of that content brought or cost.
func (a *App) RecordSale(ctx context.Context, tx pgx.Tx, s sale.Sale, content []sale.Part) (sale.Sale, []feed.Fact, error) {
	s.ID, s.Time = uuid.New(), a.now()
	s, err := s.Share(slices.Clone(content))
	if err != nil {
		return s, nil, err //nolint:wrapcheck // says of which sale
	}
	if err := a.Lots.AddSale(ctx, tx, &s); err != nil {
		return s, nil, err
	}
	return s, []feed.Fact{{Aggregate: s.Name(), OccurTime: s.Time, Payload: &inventoryv1.SaleRecorded{Sale: present.Sale(s, a.Unit, a.Currency)}}}, nil
}
