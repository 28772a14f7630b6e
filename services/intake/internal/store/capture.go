package store

import (
	"context"
	"errors"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const captureSelect = `SELECT c.id, c.scale, c.weight, c.raw_indication, c.receive_time, c.stable_since, c.capturer, c.capture_time, u.barrel,
		coalesce(b.drum_tag, '')
	FROM indication_capture c LEFT JOIN indication_use u ON u.capture = c.id LEFT JOIN barrel b ON b.id = u.barrel `

func scanCapture(row pgx.CollectableRow) (domain.Capture, error) {
	var c domain.Capture
	var barrel *uuid.UUID
	err := row.Scan(&c.ID, &c.Scale, &c.Weight, &c.Raw, &c.ReceiveTime, &c.StableSince, &c.Capturer, &c.Time, &barrel, &c.DrumTag)
	c.Barrel = orZero(barrel)
	return c, err
}

// LockCaptures keeps two captures on one scale apart until the transaction ends.
func (Store) LockCaptures(ctx context.Context, q pg.Querier, scale string) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('intake capture ' || $1, 0))`, scale)
	return wrap(err, "lock captures")
}

// LastCapture is the newest weight taken from a scale, nil before the first.
func (Store) LastCapture(ctx context.Context, q pg.Querier, scale string) (*domain.Capture, error) {
	c, err := oneCapture(q.Query(ctx, captureSelect+`WHERE c.scale = $1 ORDER BY c.capture_time DESC, c.id DESC LIMIT 1`, scale))
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil //nolint:nilnil // there is none, which is no failure
	}
	return &c, wrap(err, "read the last capture")
}

// Capture reads a weight taken from a scale. It fails with NOT_FOUND.
func (Store) Capture(ctx context.Context, q pg.Querier, scale string, id uuid.UUID) (domain.Capture, error) {
	c, err := oneCapture(q.Query(ctx, captureSelect+`WHERE c.id = $1 AND c.scale = $2`, id, scale))
	return c, orNotFound(err, "read capture", domain.CaptureName(scale, id))
}

// Captures lists the weights taken from a scale before the one in the key, newest first.
func (Store) Captures(ctx context.Context, q pg.Querier, scale string, before domain.PageKey, limit int) ([]domain.Capture, error) {
	rows, err := q.Query(ctx, captureSelect+`WHERE c.scale = $1 AND ($2::timestamptz IS NULL OR (c.capture_time, c.id) < ($2, $3))
		ORDER BY c.capture_time DESC, c.id DESC LIMIT $4`, scale, nullTime(before.Time), before.ID, limit)
	if err != nil {
		return nil, wrap(err, "list captures")
	}
	found, err := pgx.CollectRows(rows, scanCapture)
	return found, wrap(err, "list captures")
}

func oneCapture(rows pgx.Rows, err error) (domain.Capture, error) {
	if err != nil {
		return domain.Capture{}, err
	}
	return pgx.CollectExactlyOneRow(rows, scanCapture)
}

// InsertCapture stores a weight taken from a scale.
func (Store) InsertCapture(ctx context.Context, q pg.Querier, c domain.Capture) error {
	_, err := q.Exec(ctx, `INSERT INTO indication_capture (id, scale, weight, raw_indication, receive_time, stable_since, capturer, capture_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, c.ID, c.Scale, c.Weight, c.Raw, c.ReceiveTime, c.StableSince, c.Capturer, c.Time)
	return wrap(err, "insert capture")
}

// useCapture marks a captured weight as used; its key makes sure that it happens once.
const useCapture = `INSERT INTO indication_use (capture, barrel, reweigh) VALUES ($1, $2, $3)`

// captureUsed names the faults of useCapture.
func captureUsed(scale string, id uuid.UUID) map[string]error {
	return map[string]error{"indication_use_pk": domain.Capture{ID: id, Scale: scale}.Used()}
}
