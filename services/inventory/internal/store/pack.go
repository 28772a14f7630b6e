package store

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/sale"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// AddRun enters a lot, empty.
func (Store) AddRun(ctx context.Context, q pg.Querier, r lots.Run) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO pack_lot (pack_lot, code, label, line, starter, start_time, best_by) VALUES ($1, $2, $3, $4, $5, $6, nullif($7, '')::date)`,
		r.ID, r.Code, r.Label, r.Line, r.Starter, r.Time, r.BestBy)
	b.Queue(`INSERT INTO vessel (place, content) VALUES ($1, 0)`, r.Place())
	return wrap("start lot", q.SendBatch(ctx, b).Close())
}

// CountRuns counts lots by the start of their code.
func (Store) CountRuns(ctx context.Context, q pg.Querier, prefix string) (n int, err error) {
	// Lengths are compared too: tank T1 must not count the lots of tank T11.
	err = q.QueryRow(ctx, `SELECT count(*) FROM pack_lot WHERE starts_with(code, $1) AND length(code) = length($1) + 3`, prefix).Scan(&n)
	return n, wrap("count lots", err)
}

var runColumns = `
SELECT r.pack_lot, r.number, r.code, r.label, r.line, r.starter, r.start_time, coalesce(to_char(r.best_by, 'YYYY-MM-DD'), ''), v.content, e.pack_lot IS NOT NULL,
       coalesce(e.jars, 0), v.jars, coalesce(e.mean_net, 0),
       ARRAY(SELECT p.charge FROM pack_charge p WHERE p.pack_lot = r.pack_lot ORDER BY p.place), ` + askedAt("v.place") + `
FROM pack_lot r JOIN vessel v ON v.place = 'packLots/' || r.pack_lot LEFT JOIN pack_close e USING (pack_lot)`

func scanRun(row pgx.CollectableRow) (lots.Run, error) {
	var r lots.Run
	err := row.Scan(&r.ID, &r.Number, &r.Code, &r.Label, &r.Line, &r.Starter, &r.Time, &r.BestBy, &r.Content, &r.Closed, &r.Jars, &r.OnHand, &r.MeanNet, &r.Charges, &r.Asked)
	r.Time = utc(r.Time)
	return r, err
}

// Run reads one lot.
func (s Store) Run(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.Run, error) {
	rows, err := q.Query(ctx, runColumns+` WHERE r.pack_lot = $1`, id)
	if err != nil {
		return lots.Run{}, fmt.Errorf("read lot: %w", err)
	}
	return s.run(ctx, q, rows, string(lots.Of(lots.Pack, id)))
}

// RunByCode reads the lot with the code on a jar.
func (s Store) RunByCode(ctx context.Context, q pg.Querier, code string) (lots.Run, error) {
	rows, err := q.Query(ctx, runColumns+` WHERE r.code = $1`, code)
	if err != nil {
		return lots.Run{}, fmt.Errorf("read lot: %w", err)
	}
	return s.run(ctx, q, rows, "packLots/"+code)
}

func (s Store) run(ctx context.Context, q pg.Querier, rows pgx.Rows, name string) (lots.Run, error) {
	r, err := pgx.CollectExactlyOneRow(rows, scanRun)
	if err != nil {
		return r, found(err, name, "read lot")
	}
	r.Holds, err = s.OpenHolds(ctx, q, r.ID)
	return r, err
}

// Runs lists lots, newest first.
func (Store) Runs(ctx context.Context, q pg.Querier, before int64, limit int) ([]lots.Run, error) {
	rows, err := q.Query(ctx, runColumns+` WHERE r.number < $1 ORDER BY r.number DESC LIMIT $2`, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list lots: %w", err)
	}
	runs, err := pgx.CollectRows(rows, scanRun)
	return runs, wrap("list lots", err)
}

// AddRunCharge records that a lot carries a charge.
func (Store) AddRunCharge(ctx context.Context, q pg.Querier, run, charge uuid.UUID, place int, confirmer, reason string, now time.Time) error {
	_, err := q.Exec(ctx, `INSERT INTO pack_charge (pack_lot, charge, place, confirmer, reason, time) VALUES ($1, $2, $3, $4, $5, $6)`,
		run, charge, place, confirmer, reason, now)
	return wrap("record charge of lot", err)
}

// CloseRun records the jars.
func (Store) CloseRun(ctx context.Context, q pg.Querier, r lots.Run, closer string, now time.Time) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO pack_close (pack_lot, jars, mean_net, closer, close_time) VALUES ($1, $2, $3, $4, $5)`, r.ID, r.Jars, r.MeanNet, closer, now)
	b.Queue(`UPDATE vessel SET jars = $2 WHERE place = $1`, r.Place(), r.Jars)
	return wrap("close lot", q.SendBatch(ctx, b).Close())
}

// TakeJars takes jars off a lot.
func (Store) TakeJars(ctx context.Context, q pg.Querier, run uuid.UUID, jars int64) error {
	_, err := q.Exec(ctx, `UPDATE vessel SET jars = jars - $2 WHERE place = $1`, lots.Of(lots.Pack, run), jars)
	return wrap("take jars", err)
}

// AddJarLoss records of how many jars a loss was.
func (Store) AddJarLoss(ctx context.Context, q pg.Querier, transfer, run uuid.UUID, jars int64) error {
	_, err := q.Exec(ctx, `INSERT INTO jar_loss (transfer, pack_lot, jars) VALUES ($1, $2, $3)`, transfer, run, jars)
	return wrap("record lost jars", err)
}

// AddShipment records what left.
func (Store) AddShipment(ctx context.Context, q pg.Querier, s app.Shipment) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO shipment (shipment, customer, carrier, shipper, ship_time, recall_contact, carrier_address, carrier_telephone)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, s.ID, s.Customer, s.Carrier.Name, s.Shipper, s.Time, s.Contact, s.Carrier.Address, s.Carrier.Telephone)
	if s.Order != uuid.Nil {
		b.Queue(`INSERT INTO shipment_order (shipment, sales_order) VALUES ($1, $2)`, s.ID, s.Order)
	} else if s.Known != "" {
		b.Queue(`INSERT INTO shipment_customer (shipment, customer) VALUES ($1, $2)`, s.ID, s.Known)
	}
	for n, l := range s.Lines {
		b.Queue(`INSERT INTO shipment_line (shipment, line, pack_lot, jars, mass) VALUES ($1, $2, $3, $4, $5)`, s.ID, n+1, l.Lot, l.Jars, l.Mass)
	}
	for n, l := range s.Bulk {
		b.Queue(`INSERT INTO shipment_bulk (shipment, line, place, mass, containers) VALUES ($1, $2, $3, $4, $5)`, s.ID, n+1, l.Place, l.Mass, l.Containers)
	}
	for _, p := range s.Pallets {
		b.Queue(`INSERT INTO shipment_pallet (pallet, shipment) VALUES ($1, $2)`, p.ID, s.ID)
	}
	return wrap("record shipment", q.SendBatch(ctx, b).Close())
}

// Carrier reads what the newest shipment with a carrier of that name says of it.
func (Store) Carrier(ctx context.Context, q pg.Querier, name string) (sale.Carrier, error) {
	c := sale.Carrier{Name: name}
	err := q.QueryRow(ctx, `SELECT carrier_address, carrier_telephone FROM shipment WHERE carrier = $1 AND carrier_address <> '' ORDER BY number DESC LIMIT 1`, name).
		Scan(&c.Address, &c.Telephone)
	if errors.Is(err, pgx.ErrNoRows) {
		return sale.Carrier{}, nil
	}
	return c, wrap("read carrier", err)
}

const shipmentColumns = `
SELECT s.shipment, s.number, coalesce((SELECT so.sales_order FROM shipment_order so WHERE so.shipment = s.shipment), '00000000-0000-0000-0000-000000000000'),
       s.customer, s.carrier, s.shipper, s.ship_time, s.recall_contact, s.carrier_address, s.carrier_telephone,
       coalesce((SELECT o.customer FROM shipment_order so JOIN sales_order o USING (sales_order) WHERE so.shipment = s.shipment),
                (SELECT c.customer FROM shipment_customer c WHERE c.shipment = s.shipment), ''),
       ARRAY(SELECT l.pack_lot FROM shipment_line l WHERE l.shipment = s.shipment ORDER BY l.line),
       ARRAY(SELECT l.jars FROM shipment_line l WHERE l.shipment = s.shipment ORDER BY l.line),
       ARRAY(SELECT l.mass FROM shipment_line l WHERE l.shipment = s.shipment ORDER BY l.line),
       ARRAY(SELECT l.place FROM shipment_bulk l WHERE l.shipment = s.shipment ORDER BY l.line),
       ARRAY(SELECT l.mass FROM shipment_bulk l WHERE l.shipment = s.shipment ORDER BY l.line),
       ARRAY(SELECT l.containers FROM shipment_bulk l WHERE l.shipment = s.shipment ORDER BY l.line),
       ARRAY(SELECT l.pallet FROM shipment_pallet l WHERE l.shipment = s.shipment ORDER BY l.pallet),
       ARRAY(SELECT p.number FROM shipment_pallet l JOIN pallet p USING (pallet) WHERE l.shipment = s.shipment ORDER BY l.pallet),
       ARRAY(SELECT coalesce(c.sscc, '') FROM shipment_pallet l LEFT JOIN pallet_code c USING (pallet) WHERE l.shipment = s.shipment ORDER BY l.pallet)
FROM shipment s`

func scanShipment(row pgx.CollectableRow) (app.Shipment, error) {
	var s app.Shipment
	var lot, pallets []uuid.UUID
	var jars, mass, numbers []int64
	var place []lots.Place
	var bulk []quantity.Mass
	var containers, codes []string
	err := row.Scan(&s.ID, &s.Number, &s.Order, &s.Customer, &s.Carrier.Name, &s.Shipper, &s.Time, &s.Contact, &s.Carrier.Address, &s.Carrier.Telephone,
		&s.Known, &lot, &jars, &mass, &place, &bulk, &containers, &pallets, &numbers, &codes)
	s.Time = utc(s.Time)
	for n := range lot {
		s.Lines = append(s.Lines, app.ShipmentLine{Lot: lot[n], Jars: jars[n], Mass: quantity.Mass(mass[n])})
	}
	for n, id := range pallets {
		s.Pallets = append(s.Pallets, lots.Pallet{ID: id, Number: numbers[n], SSCC: codes[n]})
	}
	for n := range place {
		s.Bulk = append(s.Bulk, app.BulkLine{Place: place[n], Mass: bulk[n], Containers: containers[n]})
	}
	return s, err
}

// Shipment reads one.
func (Store) Shipment(ctx context.Context, q pg.Querier, id uuid.UUID) (app.Shipment, error) {
	rows, err := q.Query(ctx, shipmentColumns+` WHERE s.shipment = $1`, id)
	if err != nil {
		return app.Shipment{}, fmt.Errorf("read shipment: %w", err)
	}
	s, err := pgx.CollectExactlyOneRow(rows, scanShipment)
	return s, found(err, string(lots.Of(lots.Shipment, id)), "read shipment")
}

// Shipments lists shipments, newest first.
func (Store) Shipments(ctx context.Context, q pg.Querier, before int64, limit int) ([]app.Shipment, error) {
	rows, err := q.Query(ctx, shipmentColumns+` WHERE s.number < $1 ORDER BY s.number DESC LIMIT $2`, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list shipments: %w", err)
	}
	shipments, err := pgx.CollectRows(rows, scanShipment)
	return shipments, wrap("list shipments", err)
}

// ShipmentsNamed reads several.
func (Store) ShipmentsNamed(ctx context.Context, q pg.Querier, ids []uuid.UUID) ([]app.Shipment, error) {
	rows, err := q.Query(ctx, shipmentColumns+` WHERE s.shipment = ANY($1)`, ids)
	if err != nil {
		return nil, fmt.Errorf("read shipments: %w", err)
	}
	shipments, err := pgx.CollectRows(rows, scanShipment)
	return shipments, wrap("read shipments", err)
}

// AddSplit enters a smaller container.
func (Store) AddSplit(ctx context.Context, q pg.Querier, s app.Split) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO split (barrel, root, parent, drum_tag, net, actor, split_time) VALUES ($1, $2, $3, $4, $5, $6, $7)`,
		s.Barrel, s.Root, s.Parent, s.DrumTag, s.Net, s.Actor, s.Time)
	// It stands where the barrel stood it was filled from.
	b.Queue(`INSERT INTO standing (barrel, location, moves) SELECT $1, location, 0 FROM standing WHERE barrel = $2`, s.Barrel, s.Parent)
	return wrap("split barrel", q.SendBatch(ctx, b).Close())
}
