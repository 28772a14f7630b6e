package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/kit/pg"
)

const holdColumns = `
SELECT h.hold, h.kind, h.barrel, coalesce(h.cause, '00000000-0000-0000-0000-000000000000'), h.code, h.reason, h.placer, h.place_time, r.releaser, r.reason, r.release_time
FROM hold h LEFT JOIN hold_release r USING (hold)`

// AddHold records a hold and reports whether it is new.
func (Store) AddHold(ctx context.Context, q pg.Querier, h stock.Hold) (bool, error) {
	tag, err := q.Exec(ctx, `
		INSERT INTO hold (hold, kind, barrel, cause, code, reason, placer, place_time)
		VALUES ($1, $2, $3, nullif($4, '00000000-0000-0000-0000-000000000000'::uuid), $5, $6, $7, $8)
		ON CONFLICT (hold) DO NOTHING`, h.ID, h.Kind, h.Barrel, h.Cause, h.Code, h.Reason, h.Placer, h.Time)
	return tag.RowsAffected() == 1, wrap("record hold", err)
}

// AddRelease records the end of a hold.
func (Store) AddRelease(ctx context.Context, q pg.Querier, h stock.Hold) error {
	_, err := q.Exec(ctx, `INSERT INTO hold_release (hold, releaser, reason, release_time) VALUES ($1, $2, $3, $4)`,
		h.ID, h.Release.Releaser, h.Release.Reason, h.Release.Time)
	return wrap("record release of hold", err)
}

// Hold reads one hold.
func (s Store) Hold(ctx context.Context, q pg.Querier, id uuid.UUID) (stock.Hold, error) {
	holds, err := s.holds(ctx, q, holdColumns+` WHERE h.hold = $1`, id)
	if err != nil {
		return stock.Hold{}, err
	}
	if len(holds) == 0 {
		return stock.Hold{}, &stock.NotFoundError{Resource: stock.HoldName(id)}
	}
	return holds[0], nil
}

// OpenHolds lists what holds a barrel, in the order it was held.
func (s Store) OpenHolds(ctx context.Context, q pg.Querier, barrel uuid.UUID) ([]stock.Hold, error) {
	return s.holds(ctx, q, holdColumns+` WHERE h.barrel = $1 AND r.hold IS NULL ORDER BY h.place_time, h.hold`, barrel)
}

// OpenSpread lists the open holds that follow from one.
func (s Store) OpenSpread(ctx context.Context, q pg.Querier, cause uuid.UUID) ([]stock.Hold, error) {
	return s.holds(ctx, q, holdColumns+` WHERE h.cause = $1 AND r.hold IS NULL ORDER BY h.kind, h.hold`, cause)
}

// LockFlow keeps honey from moving anywhere in the house until the transaction ends: what a hold reaches must not change while
// it spreads. Everything that locks a barrel, a charge, a lot or a tank takes the same lock shared, and first.
func (Store) LockFlow(ctx context.Context, q pg.Querier) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('flow of honey', 0))`)
	return wrap("stop the flow of honey", err)
}

func shareFlow(ctx context.Context, q pg.Querier) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock_shared(hashtextextended('flow of honey', 0))`)
	return wrap("share the flow of honey", err)
}

// Holds lists holds, newest first.
func (s Store) Holds(ctx context.Context, q pg.Querier, openOnly bool, after *app.HoldKey, limit int) ([]stock.Hold, error) {
	var w where
	if openOnly {
		w.add("r.hold IS NULL")
	}
	if after != nil {
		w.add("(h.place_time, h.hold) < (%s, %s)", after.Time, after.ID)
	}
	return s.holds(ctx, q, holdColumns+w.sql()+" ORDER BY h.place_time DESC, h.hold DESC LIMIT "+w.arg(limit), w.args...)
}

func (Store) holds(ctx context.Context, q pg.Querier, sql string, args ...any) ([]stock.Hold, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("read holds: %w", err)
	}
	holds, err := pgx.CollectRows(rows, scanHold)
	return holds, wrap("read holds", err)
}

func scanHold(row pgx.CollectableRow) (stock.Hold, error) {
	var h stock.Hold
	var releaser, reason *string
	var released *time.Time
	err := row.Scan(&h.ID, &h.Kind, &h.Barrel, &h.Cause, &h.Code, &h.Reason, &h.Placer, &h.Time, &releaser, &reason, &released)
	h.Time = utc(h.Time)
	if releaser != nil {
		h.Release = &stock.Release{Releaser: *releaser, Reason: *reason, Time: utc(*released)}
	}
	return h, err
}
