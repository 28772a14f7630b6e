package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/drill"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// AddDrill records the start of a mock recall.
func (Store) AddDrill(ctx context.Context, q pg.Querier, d drill.Drill) error {
	_, err := q.Exec(ctx, `
		INSERT INTO recall_drill (recall_drill, subject, total, accounted, barrels, members, shipments, recounted, milliseconds, starter, start_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		d.ID, d.Subject, d.Total, d.Accounted, d.Barrels, d.Members, d.Shipments, d.Recounted, d.Milliseconds, d.Starter, d.StartTime)
	return wrap("start recall drill", err)
}

// FinishDrill records its end.
func (Store) FinishDrill(ctx context.Context, q pg.Querier, d drill.Drill) error {
	_, err := q.Exec(ctx, `INSERT INTO recall_drill_finish (recall_drill, found, contacts, note, finisher, finish_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		d.ID, d.Finish.Found, d.Finish.Contacts, d.Finish.Note, d.Finish.Finisher, d.Finish.Time)
	return wrap("finish recall drill", err)
}

const drillColumns = `
SELECT d.recall_drill, d.number, d.subject, d.total, d.accounted, d.barrels, d.members, d.shipments, d.recounted, d.milliseconds, d.starter, d.start_time,
       f.found, f.contacts, f.note, f.finisher, f.finish_time
FROM recall_drill d LEFT JOIN recall_drill_finish f USING (recall_drill)`

func scanDrill(row pgx.CollectableRow) (drill.Drill, error) {
	var d drill.Drill
	var found *quantity.Mass
	var contacts, note, finisher *string
	var finished *time.Time
	err := row.Scan(&d.ID, &d.Number, &d.Subject, &d.Total, &d.Accounted, &d.Barrels, &d.Members, &d.Shipments, &d.Recounted, &d.Milliseconds, &d.Starter,
		&d.StartTime, &found, &contacts, &note, &finisher, &finished)
	d.StartTime = utc(d.StartTime)
	if err == nil && found != nil {
		d.Finish = &drill.Finish{Found: *found, Contacts: *contacts, Note: *note, Finisher: *finisher, Time: utc(*finished)}
	}
	return d, err
}

// LockDrill waits for whoever is finishing it.
func (Store) LockDrill(ctx context.Context, q pg.Querier, id uuid.UUID) (drill.Drill, error) {
	name := drill.Drill{ID: id}.Name()
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended($1, 0))`, name); err != nil {
		return drill.Drill{}, fmt.Errorf("lock recall drill: %w", err)
	}
	rows, err := q.Query(ctx, drillColumns+` WHERE d.recall_drill = $1`, id)
	if err != nil {
		return drill.Drill{}, fmt.Errorf("read recall drill: %w", err)
	}
	d, err := pgx.CollectExactlyOneRow(rows, scanDrill)
	return d, found(err, name, "read recall drill")
}

// Drills lists drills, newest first.
func (Store) Drills(ctx context.Context, q pg.Querier, before int64, limit int) ([]drill.Drill, error) {
	rows, err := q.Query(ctx, drillColumns+` WHERE d.number < $1 ORDER BY d.number DESC LIMIT $2`, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list recall drills: %w", err)
	}
	drills, err := pgx.CollectRows(rows, scanDrill)
	return drills, wrap("list recall drills", err)
}

// Tagged finds barrels on hand by tags or location.
func (s Store) Tagged(ctx context.Context, q pg.Querier, tags []string, location string) ([]stock.Item, error) {
	items, err := s.items(ctx, q, itemColumns+`
		WHERE NOT b.withdrawn AND b.net > coalesce(p.taken, 0) AND (b.drum_tag = ANY($1) OR coalesce(p.location, '`+stock.Dock+`') = $2)
		ORDER BY b.drum_tag, b.barrel`, tags, location)
	return items, wrap("find what stands at a location", err)
}

// AddCount records a location that was counted.
func (Store) AddCount(ctx context.Context, q pg.Querier, c stock.Count) error {
	tags, items, booked := []string{}, []uuid.UUID{}, []string{}
	for _, m := range c.Misplaced {
		tags, items, booked = append(tags, m.DrumTag), append(items, m.Barrel), append(booked, m.Booked)
	}
	_, err := q.Exec(ctx, `
		INSERT INTO cycle_count (cycle_count, location, matched, missing, misplaced, misplaced_items, misplaced_booked, unknown, counter, count_time)
		VALUES ($1, $2, coalesce($3, '{}'::text[]), coalesce($4, '{}'::text[]), $5, $6, $7, coalesce($8, '{}'::text[]), $9, $10)`,
		c.ID, c.Location, c.Matched, c.Missing, tags, items, booked, c.Unknown, c.Counter, c.Time)
	return wrap("record count", err)
}

// Counts lists counts, newest first.
func (Store) Counts(ctx context.Context, q pg.Querier, before int64, limit int) ([]stock.Count, error) {
	rows, err := q.Query(ctx, `
		SELECT cycle_count, number, location, matched, missing, misplaced, misplaced_items, misplaced_booked, unknown, counter, count_time
		FROM cycle_count WHERE number < $1 ORDER BY number DESC LIMIT $2`, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list counts: %w", err)
	}
	counts, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (stock.Count, error) {
		var c stock.Count
		var tags, booked []string
		var items []uuid.UUID
		err := row.Scan(&c.ID, &c.Number, &c.Location, &c.Matched, &c.Missing, &tags, &items, &booked, &c.Unknown, &c.Counter, &c.Time)
		for i := range tags {
			c.Misplaced = append(c.Misplaced, stock.Misplaced{DrumTag: tags[i], Barrel: items[i], Booked: booked[i]})
		}
		c.Time = utc(c.Time)
		return c, err
	})
	return counts, wrap("list counts", err)
}

const traceEvents = `
SELECT e.*, ARRAY(SELECT c.code FROM unnest(ARRAY[e.origin, e.target, e.subject]) WITH ORDINALITY p(place, n)
                  JOIN charge c ON c.charge = CASE WHEN p.place LIKE 'charges/%' THEN substr(p.place, 9)::uuid END ORDER BY p.n)
FROM (
    SELECT t.transfer_time AS time, 'transfers/' || t.transfer AS name,
           CASE WHEN t.to_place LIKE 'losses/%' THEN 'LOST' WHEN t.to_place LIKE 'shipments/%' THEN 'SHIPPED' ELSE 'TRANSFERRED' END AS kind,
           t.from_place AS origin, t.to_place AS target, '' AS subject, t.mass, coalesce(j.jars, 0) AS jars, coalesce(r.code, '') AS code,
           coalesce(l.gtin, '') AS gtin, '' AS sscc, coalesce((SELECT s.customer FROM shipment s WHERE t.to_place = 'shipments/' || s.shipment), '') AS customer,
           '' AS hold_code, false AS still_held, '' AS ticket
    FROM transfer t LEFT JOIN jar_loss j USING (transfer) LEFT JOIN pack_lot r USING (pack_lot) LEFT JOIN label l USING (label)
    WHERE t.transfer_time >= $1 AND t.transfer_time < $2 AND 'returns/' <> ALL (ARRAY[left(t.from_place, 8), left(t.to_place, 8)])
    UNION ALL
    SELECT t.transfer_time, 'transfers/' || t.transfer,
           CASE WHEN d.transfer IS NULL THEN 'RETURNED' WHEN d.outcome = 'RESTOCKED' THEN 'RESTOCKED' ELSE 'LOST' END, t.from_place, t.to_place,
           'returns/' || b.customer_return, t.mass, coalesce(d.jars, b.jars), coalesce(r.code, ''), coalesce(l.gtin, ''), coalesce(c.sscc, ''), s.customer,
           '', false, ''
    FROM transfer t JOIN customer_return b
        ON b.customer_return = substr(CASE WHEN t.to_place LIKE 'returns/%' THEN t.to_place WHEN t.from_place LIKE 'returns/%' THEN t.from_place END, 9)::uuid
    JOIN shipment s USING (shipment) LEFT JOIN return_decision d USING (transfer)
    LEFT JOIN pack_lot r ON b.place = 'packLots/' || r.pack_lot LEFT JOIN label l USING (label) LEFT JOIN pallet_code c USING (pallet)
    WHERE t.transfer_time >= $1 AND t.transfer_time < $2
    UNION ALL
    SELECT m.move_time, 'movements/' || m.movement, 'MOVED', m.from_location, m.to_location, 'stock/' || m.barrel, 0, 0, '', '', '', '', '', false, ''
    FROM movement m WHERE m.move_time >= $1 AND m.move_time < $2
    UNION ALL
    SELECT e.close_time, 'packLots/' || e.pack_lot, 'PACKED', '', '', 'packLots/' || e.pack_lot, e.jars * e.mean_net, e.jars, r.code, l.gtin, '', '', '', false, ''
    FROM pack_close e JOIN pack_lot r USING (pack_lot) JOIN label l USING (label) WHERE e.close_time >= $1 AND e.close_time < $2
    UNION ALL
    SELECT p.build_time, 'palletLines/' || x.pallet_line, 'PALLETISED', 'packLots/' || x.pack_lot, '', 'pallets/' || x.pallet, 0, x.jars, r.code, l.gtin,
           coalesce(c.sscc, ''), '', '', false, ''
    FROM pallet p JOIN pallet_line x USING (pallet) JOIN pack_lot r USING (pack_lot) JOIN label l USING (label) LEFT JOIN pallet_code c USING (pallet)
    WHERE p.build_time >= $1 AND p.build_time < $2
    UNION ALL
    SELECT b.break_time, 'palletBreaks/' || x.pallet_line, 'TAKEN_APART', 'pallets/' || x.pallet, 'packLots/' || x.pack_lot, 'pallets/' || x.pallet, 0, x.jars, r.code,
           l.gtin, coalesce(c.sscc, ''), '', '', false, ''
    FROM pallet_break b JOIN pallet_line x USING (pallet) JOIN pack_lot r USING (pack_lot) JOIN label l USING (label) LEFT JOIN pallet_code c USING (pallet)
    WHERE b.break_time >= $1 AND b.break_time < $2
    UNION ALL
    SELECT s.ship_time, 'shipmentPallets/' || sp.pallet, 'PALLET_SHIPPED', 'pallets/' || sp.pallet, 'shipments/' || s.shipment, 'pallets/' || sp.pallet, 0, 0, '', '',
           coalesce(c.sscc, ''), s.customer, '', false, ''
    FROM shipment s JOIN shipment_pallet sp USING (shipment) LEFT JOIN pallet_code c USING (pallet) WHERE s.ship_time >= $1 AND s.ship_time < $2
    UNION ALL
    SELECT b.weigh_time, 'receipts/' || b.barrel, 'RECEIVED', '', '', 'stock/' || b.barrel, b.net, 0, '', '', '', '', '', false, 'tickets/' || b.ticket
    FROM barrel b LEFT JOIN standing p USING (barrel) WHERE (NOT b.withdrawn OR p.taken > 0) AND b.weigh_time >= $1 AND b.weigh_time < $2
    UNION ALL
    SELECT h.place_time, 'holds/' || h.hold, 'HELD', '', '', h.kind || '/' || h.barrel, 0, 0, coalesce(r.code, ''), coalesce(l.gtin, ''), '', '', h.code, false, ''
    FROM hold h LEFT JOIN pack_lot r ON h.kind = 'packLots' AND r.pack_lot = h.barrel LEFT JOIN label l USING (label)
    WHERE h.place_time >= $1 AND h.place_time < $2
    UNION ALL
    SELECT x.release_time, 'holdReleases/' || h.hold, 'RELEASED', '', '', h.kind || '/' || h.barrel, 0, 0, coalesce(r.code, ''), coalesce(l.gtin, ''), '', '', h.code,
           EXISTS (SELECT FROM hold o LEFT JOIN hold_release q USING (hold) WHERE o.barrel = h.barrel AND o.kind = h.kind AND o.hold <> h.hold
                   AND o.place_time <= x.release_time AND coalesce(q.release_time > x.release_time, true)), ''
    FROM hold_release x JOIN hold h USING (hold) LEFT JOIN pack_lot r ON h.kind = 'packLots' AND r.pack_lot = h.barrel LEFT JOIN label l USING (label)
    WHERE x.release_time >= $1 AND x.release_time < $2
) e WHERE (time, name COLLATE "C") > ($3, $4 COLLATE "C") ORDER BY time, name COLLATE "C" LIMIT $5`

// TraceEvents lists what happened, in the order of time.
func (Store) TraceEvents(ctx context.Context, q pg.Querier, from, until time.Time, after app.EventKey, limit int) ([]app.TraceEvent, error) {
	rows, err := q.Query(ctx, traceEvents, from, until, after.Time, after.Name, limit)
	if err != nil {
		return nil, fmt.Errorf("list what happened: %w", err)
	}
	events, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (app.TraceEvent, error) {
		var e app.TraceEvent
		err := row.Scan(&e.Time, &e.Name, &e.Kind, &e.From, &e.To, &e.Subject, &e.Mass, &e.Jars, &e.LotCode, &e.GTIN, &e.SSCC, &e.Customer, &e.HoldCode, &e.StillHeld, &e.Ticket, &e.Charges)
		e.Time = utc(e.Time)
		return e, err
	})
	return events, wrap("list what happened", err)
}
