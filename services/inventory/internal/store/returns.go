package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// Carried adds up what a shipment carried of a place and what came back of it.
func (Store) Carried(ctx context.Context, q pg.Querier, shipment uuid.UUID, of lots.Place) (lots.Carried, error) {
	c := lots.Carried{Shipment: shipment, Of: of}
	err := q.QueryRow(ctx, `
		SELECT coalesce((SELECT sum(jars) FROM shipment_line WHERE shipment = $1 AND 'packLots/' || pack_lot = $2), 0)::bigint,
		       (coalesce((SELECT sum(mass) FROM shipment_line WHERE shipment = $1 AND 'packLots/' || pack_lot = $2), 0)
		      + coalesce((SELECT sum(mass) FROM shipment_bulk WHERE shipment = $1 AND place = $2), 0))::bigint,
		       coalesce(sum(jars), 0)::bigint, coalesce(sum(mass), 0)::bigint
		FROM customer_return WHERE shipment = $1 AND place = $2`, shipment, of).Scan(&c.Jars, &c.Mass, &c.Back, &c.BackMass)
	return c, wrap("read what a shipment carried", err)
}

// AddReturn enters a return, empty.
func (Store) AddReturn(ctx context.Context, q pg.Querier, r lots.Return) error {
	b := &pgx.Batch{}
	b.Queue(`
		INSERT INTO customer_return (customer_return, shipment, place, pallet, jars, mass, reason, receiver, receive_time)
		VALUES ($1, $2, $3, nullif($4, '00000000-0000-0000-0000-000000000000'::uuid), $5, $6, $7, $8, $9)`,
		r.ID, r.Shipment, r.Of, r.Pallet, r.Jars, r.Mass, r.Reason, r.Receiver, r.Time)
	b.Queue(`INSERT INTO vessel (place, content) VALUES ($1, 0)`, r.Place())
	return wrap("record return", q.SendBatch(ctx, b).Close())
}

// AddDecision says what the transfer of that id was.
func (Store) AddDecision(ctx context.Context, q pg.Querier, r lots.Return, d lots.Decision) error {
	_, err := q.Exec(ctx, `INSERT INTO return_decision (transfer, customer_return, outcome, jars) VALUES ($1, $2, $3, $4)`, d.ID, r.ID, d.Outcome, d.Jars)
	return wrap("record what becomes of a return", err)
}

// PutJars counts jars in a lot again.
func (Store) PutJars(ctx context.Context, q pg.Querier, run uuid.UUID, jars int64) error {
	_, err := q.Exec(ctx, `UPDATE vessel SET jars = jars + $2 WHERE place = $1`, lots.Of(lots.Pack, run), jars)
	return wrap("put jars back", err)
}

const returnColumns = `
SELECT r.customer_return, r.number, r.shipment, s.customer, r.place, coalesce(l.code, ''), coalesce(r.pallet, '00000000-0000-0000-0000-000000000000'),
       r.jars, r.mass, r.reason, r.receiver, r.receive_time
FROM customer_return r JOIN shipment s USING (shipment) LEFT JOIN pack_lot l ON r.place = 'packLots/' || l.pack_lot`

// Return reads one.
func (s Store) Return(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.Return, error) {
	found, err := s.returns(ctx, q, returnColumns+` WHERE r.customer_return = $1`, id)
	if err != nil {
		return lots.Return{}, err
	}
	if len(found) == 0 {
		return lots.Return{}, &stock.NotFoundError{Resource: string(lots.Of(lots.Returned, id))}
	}
	return found[0], nil
}

// Returns lists them, newest first.
func (s Store) Returns(ctx context.Context, q pg.Querier, f app.ReturnFilter, before int64, limit int) ([]lots.Return, error) {
	var w where
	w.add("r.number < %s", before)
	w.equal("r.shipment", f.Shipment, f.Shipment != uuid.Nil)
	if f.Waiting {
		w.add("EXISTS (SELECT FROM vessel v WHERE v.place = 'returns/' || r.customer_return AND v.content > 0)")
	}
	return s.returns(ctx, q, returnColumns+w.sql()+" ORDER BY r.number DESC LIMIT "+w.arg(limit), w.args...)
}

func (Store) returns(ctx context.Context, q pg.Querier, sql string, args ...any) ([]lots.Return, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("read returns: %w", err)
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (lots.Return, error) {
		var r lots.Return
		err := row.Scan(&r.ID, &r.Number, &r.Shipment, &r.Customer, &r.Of, &r.Code, &r.Pallet, &r.Jars, &r.Mass, &r.Reason, &r.Receiver, &r.Time)
		r.Time = utc(r.Time)
		return r, err
	})
	if err != nil {
		return nil, fmt.Errorf("read returns: %w", err)
	}
	return found, decisions(ctx, q, found)
}

// decisions reads what was decided about returns, oldest first.
func decisions(ctx context.Context, q pg.Querier, of []lots.Return) error {
	ids, index := make([]uuid.UUID, len(of)), map[uuid.UUID]int{}
	for i, r := range of {
		ids[i], index[r.ID] = r.ID, i
	}
	rows, err := q.Query(ctx, `
		SELECT d.customer_return, d.transfer, d.outcome, d.jars, t.to_place, t.mass, t.reason, t.actor, t.transfer_time
		FROM return_decision d JOIN transfer t USING (transfer) WHERE d.customer_return = ANY($1) ORDER BY t.number`, ids)
	if err != nil {
		return fmt.Errorf("read decisions about returns: %w", err)
	}
	var id uuid.UUID
	var d lots.Decision
	var mass quantity.Mass
	var at time.Time
	_, err = pgx.ForEachRow(rows, []any{&id, &d.ID, &d.Outcome, &d.Jars, &d.To, &mass, &d.Reason, &d.Decider, &at}, func() error {
		d.Mass, d.Time = mass, utc(at)
		of[index[id]].Decisions = append(of[index[id]].Decisions, d)
		return nil
	})
	return wrap("read decisions about returns", err)
}

// HoldsOn lists the open holds placed on places themselves, oldest first.
func (s Store) HoldsOn(ctx context.Context, q pg.Querier, places []lots.Place, endedFor lots.Place) ([]stock.Hold, error) {
	names := make([]string, len(places))
	for i, p := range places {
		names[i] = string(p)
	}
	return s.holds(ctx, q, holdColumns+`
		WHERE r.hold IS NULL AND h.cause IS NULL AND h.kind || '/' || h.barrel = ANY($1) AND NOT EXISTS (
			SELECT FROM hold f JOIN hold_release e USING (hold) WHERE f.cause = h.hold AND f.kind || '/' || f.barrel = $2)
		ORDER BY h.place_time, h.hold`, names, endedFor)
}
