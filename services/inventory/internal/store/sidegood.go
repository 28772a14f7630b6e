package store

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/domain/sidegood"
	"barrelhead.example/services/kit/pg"
)

// LockSideGood locks a good and crop year and adds it up.
func (Store) LockSideGood(ctx context.Context, q pg.Querier, good sidegood.Good, year int32) (has int64, err error) {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('sideGoods/' || $1 || '/' || $2::int, 0))`, good, year); err != nil {
		return 0, fmt.Errorf("lock side good: %w", err)
	}
	err = q.QueryRow(ctx, `SELECT coalesce(sum(quantity), 0)::bigint FROM side_entry WHERE good = $1 AND crop_year = $2`, good, year).Scan(&has)
	return has, wrap("add up side good", err)
}

// AddSideEntry records one.
func (Store) AddSideEntry(ctx context.Context, q pg.Querier, e sidegood.Entry) error {
	_, err := q.Exec(ctx, `
		INSERT INTO side_entry (side_entry, good, move, quantity, crop_year, member, customer, note, recorder, record_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
		e.ID, e.Good, e.Move, e.Quantity, e.CropYear, e.Member, e.Customer, e.Note, e.Recorder, e.Time)
	return wrap("record side good", err)
}

// SideEntries lists them, newest first.
func (Store) SideEntries(ctx context.Context, q pg.Querier, before int64, limit int) ([]sidegood.Entry, error) {
	rows, err := q.Query(ctx, `
		SELECT side_entry, number, good, move, quantity, crop_year, member, customer, note, recorder, record_time
		FROM side_entry WHERE number < $1 ORDER BY number DESC LIMIT $2`, before, limit)
	if err != nil {
		return nil, fmt.Errorf("list side goods: %w", err)
	}
	out, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (sidegood.Entry, error) {
		var e sidegood.Entry
		err := row.Scan(&e.ID, &e.Number, &e.Good, &e.Move, &e.Quantity, &e.CropYear, &e.Member, &e.Customer, &e.Note, &e.Recorder, &e.Time)
		e.Time = utc(e.Time)
		return e, err
	})
	return out, wrap("list side goods", err)
}

// SideStocks adds up what there is.
func (Store) SideStocks(ctx context.Context, q pg.Querier) ([]sidegood.Stock, error) {
	rows, err := q.Query(ctx, `
		SELECT good, crop_year, sum(quantity)::bigint FROM side_entry GROUP BY good, crop_year HAVING sum(quantity) <> 0 ORDER BY good COLLATE "C", crop_year`)
	if err != nil {
		return nil, fmt.Errorf("add up side goods: %w", err)
	}
	out, err := pgx.CollectRows(rows, pgx.RowToStructByPos[sidegood.Stock])
	return out, wrap("add up side goods", err)
}
