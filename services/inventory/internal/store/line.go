package store

import (
	"context"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/line"
	"barrelhead.example/services/kit/pg"
)

// LockLine locks a line by its name and says what was on it last.
func (Store) LockLine(ctx context.Context, q pg.Querier, name string) (b line.Before, err error) {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('lines/' || $1, 0))`, name); err != nil {
		return b, fmt.Errorf("lock line: %w", err)
	}
	err = q.QueryRow(ctx, `
		SELECT coalesce(r.code, ''), coalesce(c.after_lot_code = r.code, false)
		FROM (SELECT 1) one
		LEFT JOIN LATERAL (SELECT code FROM pack_lot WHERE line = $1 ORDER BY number DESC LIMIT 1) r ON true
		LEFT JOIN LATERAL (SELECT after_lot_code FROM line_clearance WHERE line = $1 ORDER BY number DESC LIMIT 1) c ON true`, name).
		Scan(&b.LotCode, &b.Cleared)
	return b, wrap("read line", err)
}

// AddClearance records one.
func (Store) AddClearance(ctx context.Context, q pg.Querier, c line.Clearance) error {
	_, err := q.Exec(ctx, `
		INSERT INTO line_clearance (line_clearance, line, after_lot_code, cleaning, clearer, clear_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		c.ID, c.Line, c.After, c.Cleaning, c.Clearer, c.Time)
	return wrap("record line clearance", err)
}

// Clearances lists them, newest first.
func (Store) Clearances(ctx context.Context, q pg.Querier, before int64, limit int) ([]line.Clearance, error) {
	rows, err := q.Query(ctx, `
		SELECT line_clearance, number, line, after_lot_code, cleaning, clearer, clear_time
		FROM line_clearance WHERE number < $1 ORDER BY number DESC LIMIT $2`, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list line clearances: %w", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (line.Clearance, error) {
		var c line.Clearance
		err := row.Scan(&c.ID, &c.Number, &c.Line, &c.After, &c.Cleaning, &c.Clearer, &c.Time)
		c.Time = utc(c.Time)
		return c, err
	})
	return out, wrap("list line clearances", err)
}

// AddLineCheck records jars weighed during a run.
func (Store) AddLineCheck(ctx context.Context, q pg.Querier, c line.Check) error {
	_, err := q.Exec(ctx, `
		INSERT INTO line_check (line_check, pack_lot, unit, declared, weights, average, lowest, variation, stopped, sentence, checker, check_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		c.ID, c.Run, c.Unit, c.Declared, c.Weights, c.Average, c.Lowest, c.Variation, c.Stopped, c.Sentence, c.Checker, c.Time)
	return wrap("record line check", err)
}

// LineChecks lists the checks of a lot, oldest first.
func (Store) LineChecks(ctx context.Context, q pg.Querier, run uuid.UUID) ([]line.Check, error) {
	rows, err := q.Query(ctx, `
		SELECT line_check, pack_lot, unit, declared, weights, average, lowest, variation, stopped, sentence, checker, check_time
		FROM line_check WHERE pack_lot = $1 ORDER BY number`, run)
	if err != nil {
		return nil, fmt.Errorf("list line checks: %w", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (line.Check, error) {
		var c line.Check
		err := row.Scan(&c.ID, &c.Run, &c.Unit, &c.Declared, &c.Weights, &c.Average, &c.Lowest, &c.Variation, &c.Stopped, &c.Sentence, &c.Checker, &c.Time)
		c.Time = utc(c.Time)
		return c, err
	})
	return out, wrap("list line checks", err)
}
