package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

// AddNetCheck records a sample with its judgement.
func (Store) AddNetCheck(ctx context.Context, q pg.Querier, c lots.NetCheck) error {
	_, err := q.Exec(ctx, `
		INSERT INTO net_content_check (net_content_check, pack_lot, unit, declared, lot_size, weights, average, deviation, error_limit, variation,
		                               short, short_allowed, average_kept, sentences, checker, check_time, tares)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, coalesce($17, '{}'::bigint[]))`,
		c.ID, c.Run, c.Unit, c.Declared, c.Lot, c.Weights, c.Average, c.Deviation, c.Limit, c.Variation,
		c.Short, c.ShortAllowed, c.AverageKept, c.Sentences, c.Checker, c.Time, c.Tares)
	return wrap("record net content check", err)
}

const netCheckColumns = `
SELECT c.net_content_check, c.pack_lot, c.unit, c.declared, c.lot_size, c.weights, c.average, c.deviation, c.error_limit, c.variation,
       c.short, c.short_allowed, c.average_kept, c.sentences, c.checker, c.check_time, c.tares, r.releaser, r.reason, r.release_time
FROM net_content_check c LEFT JOIN net_content_release r USING (net_content_check)`

func scanNetCheck(row pgx.CollectableRow) (lots.NetCheck, error) {
	var c lots.NetCheck
	var releaser, reason *string
	var released *time.Time
	err := row.Scan(&c.ID, &c.Run, &c.Unit, &c.Declared, &c.Lot, &c.Weights, &c.Average, &c.Deviation, &c.Limit, &c.Variation,
		&c.Short, &c.ShortAllowed, &c.AverageKept, &c.Sentences, &c.Checker, &c.Time, &c.Tares, &releaser, &reason, &released)
	c.Time = utc(c.Time)
	if err == nil && releaser != nil {
		c.Release = &stock.Release{Releaser: *releaser, Reason: *reason, Time: utc(*released)}
	}
	return c, err
}

// NetCheck reads one check.
func (Store) NetCheck(ctx context.Context, q pg.Querier, id uuid.UUID) (lots.NetCheck, error) {
	rows, err := q.Query(ctx, netCheckColumns+` WHERE c.net_content_check = $1`, id)
	if err != nil {
		return lots.NetCheck{}, fmt.Errorf("read net content check: %w", err)
	}
	c, err := pgx.CollectExactlyOneRow(rows, scanNetCheck)
	return c, found(err, lots.NetCheckName(id), "read net content check")
}

// NetChecks lists the checks of a lot, oldest first.
func (Store) NetChecks(ctx context.Context, q pg.Querier, run uuid.UUID) ([]lots.NetCheck, error) {
	rows, err := q.Query(ctx, netCheckColumns+` WHERE c.pack_lot = $1 ORDER BY c.number`, run)
	if err != nil {
		return nil, fmt.Errorf("list net content checks: %w", err)
	}
	checks, err := pgx.CollectRows(rows, scanNetCheck)
	return checks, wrap("list net content checks", err)
}

// AddNetRelease records that a lot may be shipped after a failed check.
func (Store) AddNetRelease(ctx context.Context, q pg.Querier, c lots.NetCheck) error {
	_, err := q.Exec(ctx, `INSERT INTO net_content_release (net_content_check, releaser, reason, release_time) VALUES ($1, $2, $3, $4)`,
		c.ID, c.Release.Releaser, c.Release.Reason, c.Release.Time)
	return wrap("record release of net content check", err)
}
