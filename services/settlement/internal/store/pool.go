package store

import (
	"context"
	"errors"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

const poolColumns = `p.pool, p.number, p.crop_year, p.title, p.varieties, p.differentials, p.opener, p.open_time, r.run,
	coalesce((SELECT sum(amount) FROM pool_entry e WHERE e.pool = p.pool AND kind = 1), 0)::bigint,
	coalesce((SELECT sum(amount) FROM pool_entry e WHERE e.pool = p.pool AND kind = 2), 0)::bigint
	FROM pool p LEFT JOIN run_release r USING (pool)`

func scanPool(row pgx.CollectableRow) (*pool.Account, error) {
	var a pool.Account
	var closing *uuid.UUID
	err := row.Scan(&a.ID, &a.Number, &a.CropYear, &a.Title, &a.Varieties, &a.Classes, &a.Opener, &a.OpenTime, &closing, &a.Proceeds, &a.Expenses)
	a.ClosingRun = orZero(closing)
	return &a, err
}

// InsertPool saves a new pool.
func (Store) InsertPool(ctx context.Context, tx pgx.Tx, a *pool.Account) error {
	return exec(ctx, tx, "save the pool", `INSERT INTO pool (pool, crop_year, title, varieties, differentials, opener, open_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`, a.ID, a.CropYear, a.Title, a.Varieties, a.Classes, a.Opener, a.OpenTime)
}

// Pool is one pool, or nil.
func (Store) Pool(ctx context.Context, q pg.Querier, id uuid.UUID) (*pool.Account, error) {
	return one(ctx, q, "read the pool", `SELECT `+poolColumns+` WHERE p.pool = $1`, scanPool, id)
}

// PoolsOf are the pools of a crop year, oldest first.
func (Store) PoolsOf(ctx context.Context, q pg.Querier, cropYear int) ([]*pool.Account, error) {
	return collect(ctx, q, "read the pools", `SELECT `+poolColumns+` WHERE p.crop_year = $1 ORDER BY p.number`, scanPool, cropYear)
}

// ListPools gives pools, newest crop year first.
func (Store) ListPools(ctx context.Context, q pg.Querier, after pool.Key, limit int) ([]*pool.Account, error) {
	return collect(ctx, q, "list the pools", `SELECT `+poolColumns+`
		WHERE ($1 = 0 OR (p.crop_year, p.number) < ($1, $2)) ORDER BY p.crop_year DESC, p.number DESC LIMIT $3`,
		scanPool, after.CropYear, after.Number, limit)
}

var entryColumns = `entry, number, pool, kind, amount, description, document, ` + date("entry_date") + `, recorder, record_time, counter, sale, coalesce(sale_place, 0) FROM pool_entry`

func scanEntry(row pgx.CollectableRow) (*pool.Record, error) {
	var e pool.Record
	var counter, sale *uuid.UUID
	err := row.Scan(&e.ID, &e.Number, &e.Pool, &e.Kind, &e.Amount, &e.Description, &e.Document, &e.Date, &e.Recorder, &e.RecordTime, &counter, &sale, &e.SalePlace)
	e.Counter, e.Sale = orZero(counter), orZero(sale)
	return &e, err
}

// InsertPoolEntry saves an amount on a pool's account.
func (Store) InsertPoolEntry(ctx context.Context, tx pgx.Tx, e *pool.Record) error {
	return exec(ctx, tx, "save the entry", `INSERT INTO pool_entry
		(entry, pool, kind, amount, description, document, entry_date, recorder, record_time, counter, sale, sale_place)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, nullif($12, 0))`,
		e.ID, e.Pool, int16(e.Kind), e.Amount, e.Description, e.Document, day(e.Date), e.Recorder, e.RecordTime, some(e.Counter), some(e.Sale), e.SalePlace) //nolint:gosec // one of two kinds
}

// PoolEntries are the amounts on a pool's account after one, in the order entered; limit 0 is no limit.
func (Store) PoolEntries(ctx context.Context, q pg.Querier, id uuid.UUID, after int64, limit int) ([]*pool.Record, error) {
	return collect(ctx, q, "read the entries", `SELECT `+entryColumns+`
		WHERE pool = $1 AND number > $2 ORDER BY number LIMIT nullif($3, 0)`, scanEntry, id, after, limit)
}

// UnpricedVarieties counts, by floral source, the barrels of a crop year that count and have no advance, or one in doubt
// and no final.
func (Store) UnpricedVarieties(ctx context.Context, q pg.Querier, cropYear int) (map[string]int, error) {
	rows, err := q.Query(ctx, `SELECT variety, count(*) FROM (
			SELECT variety FROM intake_barrel b WHERE counts AND crop_year = $1 AND NOT EXISTS (SELECT 1 FROM standing_advance a WHERE a.barrel = b.barrel)
			UNION ALL SELECT variety FROM intake_barrel b WHERE counts AND crop_year = $1
				AND barrel IN (SELECT barrel FROM intake_doubt WHERE open
					UNION SELECT a.barrel FROM grading_doubt d JOIN standing_advance a USING (certificate) WHERE d.open)
				AND EXISTS (SELECT 1 FROM standing_advance a WHERE a.barrel = b.barrel)
				AND NOT EXISTS (SELECT 1 FROM standing_final f WHERE f.barrel = b.barrel)) w GROUP BY 1`, cropYear)
	if err != nil {
		return nil, fmt.Errorf("count the barrels that wait: %w", err)
	}
	counts := map[string]int{}
	var variety string
	var n int
	if _, err := pgx.ForEachRow(rows, []any{&variety, &n}, func() error {
		counts[variety] = n
		return nil
	}); err != nil {
		return nil, fmt.Errorf("count the barrels that wait: %w", err)
	}
	return counts, nil
}

// one is the only row of a query, or nil.
func one[T any](ctx context.Context, q pg.Querier, what, sql string, scan pgx.RowToFunc[*T], args ...any) (*T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	found, err := pgx.CollectExactlyOneRow(rows, scan)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return found, nil
}
