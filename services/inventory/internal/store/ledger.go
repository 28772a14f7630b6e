package store

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

// LockPlaces locks charges and lots in the order of their names.
func (Store) LockPlaces(ctx context.Context, q pg.Querier, places ...lots.Place) error {
	names := make([]string, len(places))
	for n, p := range places {
		names[n] = string(p)
	}
	slices.Sort(names)
	if err := shareFlow(ctx, q); err != nil {
		return err
	}
	_, err := q.Exec(ctx, `SELECT 1 FROM vessel WHERE place = ANY($1) ORDER BY place FOR UPDATE`, names)
	return wrap("lock places", err)
}

// Pour records a transfer.
func (Store) Pour(ctx context.Context, q pg.Querier, t *lots.Transfer) error {
	b := &pgx.Batch{}
	switch t.From.Kind() {
	case lots.Barrel:
		b.Queue(`UPDATE standing SET taken = taken + $2 WHERE barrel = $1`, t.From.ID(), t.Mass)
	case lots.Shipment: // what it still has follows from what came back
	default:
		b.Queue(`UPDATE vessel SET content = content - $2 WHERE place = $1`, t.From, t.Mass)
	}
	if kind := t.To.Kind(); kind == lots.Charge || kind == lots.Pack || kind == lots.Returned {
		b.Queue(`UPDATE vessel SET content = content + $2 WHERE place = $1`, t.To, t.Mass)
	}
	b.Queue(`
		INSERT INTO transfer (transfer, from_place, to_place, mass, actor, transfer_time, reason, of_place) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)
		RETURNING number`, t.ID, t.From, t.To, t.Mass, t.Actor, t.Time, t.Reason, t.Of).
		QueryRow(func(row pgx.Row) error { return row.Scan(&t.Number) })
	return wrap("record transfer", q.SendBatch(ctx, b).Close())
}

// What matters to a place: down is where its honey went, up is where all that came from, and everything that left one of
// those places. Within a shipment what left one place lies apart from what left another: part tells them apart, and is empty of every
// other place and of a shipment that is asked about whole. Nothing leaves losses, so what else is in them does not matter. UNION ends
// circles.
const ledger = `
WITH RECURSIVE down AS (
    SELECT $1::text AS place, '' AS part
    UNION
    SELECT t.to_place, CASE WHEN t.to_place LIKE 'shipments/%' THEN t.from_place ELSE '' END
    FROM transfer t JOIN down d ON t.from_place = d.place AND (d.part = '' OR t.of_place = d.part) WHERE $2
), up AS (
    SELECT place, part FROM down WHERE place = $1 OR place NOT LIKE 'losses/%'
    UNION
    SELECT t.from_place, t.of_place FROM transfer t JOIN up u ON t.to_place = u.place AND (u.part = '' OR t.from_place = u.part)
)
SELECT t.transfer, t.number, t.from_place, t.to_place, t.mass, t.actor, t.transfer_time, t.reason, t.of_place
FROM transfer t WHERE EXISTS (SELECT FROM up u WHERE u.place = t.from_place AND (u.part = '' OR u.part = t.of_place)) ORDER BY t.number`

// Ledger reads the transfers that matter to a place.
func (Store) Ledger(ctx context.Context, q pg.Querier, place lots.Place, onward bool) ([]lots.Transfer, error) {
	rows, err := q.Query(ctx, ledger, place, onward)
	if err != nil {
		return nil, fmt.Errorf("read ledger: %w", err)
	}
	transfers, err := pgx.CollectRows(rows, scanTransfer)
	return transfers, wrap("read ledger", err)
}

func scanTransfer(row pgx.CollectableRow) (lots.Transfer, error) {
	var t lots.Transfer
	err := row.Scan(&t.ID, &t.Number, &t.From, &t.To, &t.Mass, &t.Actor, &t.Time, &t.Reason, &t.Of)
	t.Time = utc(t.Time)
	return t, err
}

// Transfers reads transfers by their numbers.
func (Store) Transfers(ctx context.Context, q pg.Querier, numbers []int64) ([]lots.Transfer, error) {
	rows, err := q.Query(ctx, `
		SELECT transfer, number, from_place, to_place, mass, actor, transfer_time, reason, of_place
		FROM transfer WHERE number = ANY($1) ORDER BY number`, numbers)
	if err != nil {
		return nil, fmt.Errorf("read transfers: %w", err)
	}
	transfers, err := pgx.CollectRows(rows, scanTransfer)
	return transfers, wrap("read transfers", err)
}

const news = `
SELECT coalesce(k.transfer, '00000000-0000-0000-0000-000000000000'), t.transfer, t.number, t.from_place, t.to_place, t.mass, t.of_place, coalesce(t.own, false)
FROM (SELECT 1) one
LEFT JOIN transfer k ON k.number = $3
LEFT JOIN ((SELECT transfer, number, from_place, to_place, mass, of_place, xmin::text = pg_current_xact_id_if_assigned()::xid::text AS own
            FROM transfer WHERE number > $1 ORDER BY number LIMIT $4)
           UNION ALL
           SELECT transfer, number, from_place, to_place, mass, of_place, xmin::text = pg_current_xact_id_if_assigned()::xid::text
           FROM transfer WHERE number = ANY($2)) t ON true
ORDER BY t.number`

// News reads what a book has not.
func (Store) News(ctx context.Context, q pg.Querier, highest int64, undecided []int64, known int64) (app.News, error) {
	var n app.News
	rows, err := q.Query(ctx, news, highest, undecided, known, app.NewsPage)
	if err != nil {
		return n, fmt.Errorf("read news of ledger: %w", err)
	}
	var id *uuid.UUID
	var number, mass *int64
	var from, to, of *string
	var own bool
	_, err = pgx.ForEachRow(rows, []any{&n.KnownID, &id, &number, &from, &to, &mass, &of, &own}, func() error {
		if number != nil {
			n.Transfers = append(n.Transfers, lots.Transfer{
				ID: *id, Number: *number, From: lots.Place(*from), To: lots.Place(*to), Mass: quantity.Mass(*mass), Of: lots.Place(*of),
			})
			n.Own = append(n.Own, own)
		}
		return nil
	})
	return n, wrap("read news of ledger", err)
}

// Balance adds up everything. What is in barrels and vessels comes from what they hold, what was received, shipped and
// lost from the records, so that a mistake in either shows as a difference.
func (Store) Balance(ctx context.Context, q pg.Querier) (app.Balance, error) {
	b := app.Balance{Losses: map[string]quantity.Mass{}}
	err := q.QueryRow(ctx, `
		SELECT coalesce((SELECT sum(CASE WHEN b.withdrawn THEN coalesce(p.taken, 0) ELSE b.net END) FROM barrel b LEFT JOIN standing p USING (barrel)), 0)::bigint,
		       coalesce((SELECT sum(b.net - coalesce(p.taken, 0)) FROM holding b LEFT JOIN standing p USING (barrel) WHERE NOT b.withdrawn), 0)::bigint
		     + coalesce((SELECT sum(b.net - coalesce(p.taken, 0)) FROM holding b LEFT JOIN standing p USING (barrel) WHERE b.withdrawn AND b.parent IS NOT NULL), 0)::bigint,
		       coalesce((SELECT sum(content) FROM vessel WHERE place LIKE 'charges/%'), 0)::bigint,
		       coalesce((SELECT sum(content) FROM vessel WHERE place LIKE 'packLots/%'), 0)::bigint,
		       (coalesce((SELECT sum(mass) FROM shipment_line), 0) + coalesce((SELECT sum(mass) FROM shipment_bulk), 0)
		      - coalesce((SELECT sum(mass) FROM customer_return), 0))::bigint,
		       coalesce((SELECT sum(content) FROM vessel WHERE place LIKE 'returns/%'), 0)::bigint,
		       coalesce((SELECT sum(v.content) FROM vessel v JOIN charge c ON v.place = 'charges/' || c.charge
		                 JOIN tank_state s USING (tank) WHERE s.charge <> c.charge), 0)::bigint,
		       coalesce((SELECT sum(mass) FROM waiting_write_off), 0)::bigint`).
		Scan(&b.Received, &b.Barrels, &b.Tanks, &b.Lots, &b.Shipped, &b.Returned, &b.Unexplained, &b.Asked)
	if err != nil {
		return b, fmt.Errorf("balance: %w", err)
	}
	rows, err := q.Query(ctx, `
		SELECT substr(to_place, length('losses/') + 1), sum(mass)::bigint FROM transfer WHERE to_place LIKE 'losses/%' GROUP BY 1`)
	if err != nil {
		return b, fmt.Errorf("balance losses: %w", err)
	}
	var code string
	var mass quantity.Mass
	_, err = pgx.ForEachRow(rows, []any{&code, &mass}, func() error {
		b.Losses[code] = mass
		return nil
	})
	return b, wrap("balance losses", err)
}
