package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/pg"
)

// AddWriteOff records that honey is asked to be written off.
func (Store) AddWriteOff(ctx context.Context, q pg.Querier, o lots.WriteOff) error {
	_, err := q.Exec(ctx, `INSERT INTO write_off (write_off, place, mass, jars, held, reason, asker, ask_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`,
		o.ID, o.Place, o.Mass, o.Jars, o.Held, o.Reason, o.Asker, o.Time)
	return wrap("ask for a write-off", err)
}

// AddVerdict records how a request ended.
func (Store) AddVerdict(ctx context.Context, q pg.Querier, o lots.WriteOff) error {
	_, err := q.Exec(ctx, `
		INSERT INTO write_off_decision (write_off, transfer, reason, decider, decide_time, withdrawn)
		VALUES ($1, nullif($2, '00000000-0000-0000-0000-000000000000'::uuid), $3, $4, $5, $6)`,
		o.ID, o.Decided.Transfer, o.Decided.Reason, o.Decided.Decider, o.Decided.Time, o.Decided.Withdrawn)
	return wrap("decide a write-off", err)
}

// A request with what its place holds now, by the books.
const writeOffColumns = `
SELECT o.write_off, o.number, o.place, o.mass, o.jars, o.held, o.reason, o.asker, o.ask_time,
       coalesce(CASE WHEN o.place LIKE 'stock/%'
                     THEN (SELECT h.net - coalesce(p.taken, 0) FROM holding h LEFT JOIN standing p USING (barrel)
                           WHERE h.barrel = substr(o.place, length('stock/') + 1)::uuid)
                     ELSE (SELECT v.content FROM vessel v WHERE v.place = o.place) END, 0)::bigint,
       d.reason, d.decider, d.decide_time, coalesce(d.transfer, '00000000-0000-0000-0000-000000000000'), coalesce(t.mass, 0), coalesce(d.withdrawn, false)
FROM write_off o LEFT JOIN write_off_decision d USING (write_off) LEFT JOIN transfer t ON t.transfer = d.transfer`

func scanWriteOff(row pgx.CollectableRow) (lots.WriteOff, error) {
	var o lots.WriteOff
	var v lots.Verdict
	var reason, decider *string
	var decided *time.Time
	err := row.Scan(&o.ID, &o.Number, &o.Place, &o.Mass, &o.Jars, &o.Held, &o.Reason, &o.Asker, &o.Time, &o.Holds, &reason, &decider, &decided, &v.Transfer, &v.Mass,
		&v.Withdrawn)
	o.Time = utc(o.Time)
	if err == nil && decider != nil {
		v.Reason, v.Decider, v.Time = *reason, *decider, utc(*decided)
		o.Decided = &v
	}
	return o, err
}

// WriteOff reads one request.
func (Store) WriteOff(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.WriteOff, error) {
	rows, err := q.Query(ctx, writeOffColumns+` WHERE o.write_off = $1`, id)
	if err != nil {
		return lots.WriteOff{}, fmt.Errorf("read write-off: %w", err)
	}
	o, err := pgx.CollectExactlyOneRow(rows, scanWriteOff)
	return o, found(err, lots.WriteOff{ID: id}.Name(), "read write-off")
}

// WriteOffs lists requests, newest first.
func (Store) WriteOffs(ctx context.Context, q pg.Querier, waitingOnly bool, place lots.Place, before int64, limit int) ([]lots.WriteOff, error) {
	var w where
	w.add("o.number < %s", before)
	w.equal("o.place", place, place != "")
	if waitingOnly {
		w.add("d.write_off IS NULL")
	}
	rows, err := q.Query(ctx, writeOffColumns+w.sql()+" ORDER BY o.number DESC LIMIT "+w.arg(limit), w.args...)
	if err != nil {
		return nil, fmt.Errorf("list write-offs: %w", err)
	}
	all, err := pgx.CollectRows(rows, scanWriteOff)
	return all, wrap("list write-offs", err)
}

// Waiting adds up what is asked for at a place.
func (Store) Waiting(ctx context.Context, q pg.Querier, place lots.Place) (lots.Waiting, error) {
	var w lots.Waiting
	err := q.QueryRow(ctx, `SELECT coalesce(sum(mass), 0)::bigint, coalesce(sum(jars), 0)::bigint FROM waiting_write_off WHERE place = $1`, place).Scan(&w.Mass, &w.Jars)
	return w, wrap("add up what is asked to be written off", err)
}

// askedAt is the SQL for what is asked to be written off at a place, itself SQL, and not decided.
func askedAt(place string) string {
	return `coalesce((SELECT sum(o.mass) FROM waiting_write_off o WHERE o.place = ` + place + `), 0)::bigint`
}
