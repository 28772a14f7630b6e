package store

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// InsertReject stores a barrel that was not taken in.
func (Store) InsertReject(ctx context.Context, q pg.Querier, r domain.Reject) error {
	_, err := q.Exec(ctx, `INSERT INTO rejected_barrel (id, ticket, drum_tag, reason, note, photo_sha256, rejecter, reject_time)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, r.ID, r.Ticket, r.DrumTag, r.Reason, r.Note, r.Photo, r.Rejecter, r.Time)
	return wrap(err, "insert rejected barrel")
}

// InsertRejectExit stores how a locked rejected barrel left.
func (Store) InsertRejectExit(ctx context.Context, q pg.Querier, r domain.Reject) error {
	_, err := q.Exec(ctx, `INSERT INTO rejected_barrel_exit (barrel, fate, note, recorder, exit_time) VALUES ($1, $2, $3, $4, $5)`,
		r.ID, r.Fate, r.ExitNote, r.Recorder, r.ExitTime)
	return wrap(err, "insert exit of a rejected barrel")
}

const rejectSelect = `SELECT r.id, r.ticket, r.drum_tag, r.reason, r.note, r.photo_sha256, r.rejecter, r.reject_time,
	coalesce(x.fate, ''), coalesce(x.note, ''), coalesce(x.recorder, ''), x.exit_time
	FROM rejected_barrel r LEFT JOIN rejected_barrel_exit x ON x.barrel = r.id `

func scanReject(row pgx.Row) (domain.Reject, error) {
	var r domain.Reject
	var left *time.Time
	err := row.Scan(&r.ID, &r.Ticket, &r.DrumTag, &r.Reason, &r.Note, &r.Photo, &r.Rejecter, &r.Time, &r.Fate, &r.ExitNote, &r.Recorder, &left)
	r.ExitTime = orZero(left)
	return r, err
}

// LockReject reads a rejected barrel that will leave. It fails with NOT_FOUND.
func (Store) LockReject(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.Reject, error) {
	if _, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('intake reject ' || $1::text, 0))`, id.String()); err != nil {
		return domain.Reject{}, wrap(err, "lock rejected barrel")
	}
	r, err := scanReject(q.QueryRow(ctx, rejectSelect+`WHERE r.id = $1`, id))
	return r, orNotFound(err, "read rejected barrel", domain.Reject{ID: id}.Name())
}

// Rejects lists those of a ticket and of the tickets it replaced, oldest first.
func (Store) Rejects(ctx context.Context, q pg.Querier, ticket uuid.UUID) ([]domain.Reject, error) {
	rows, err := q.Query(ctx, `WITH RECURSIVE chain AS (
			SELECT id, supersedes FROM ticket WHERE id = $1
			UNION ALL SELECT t.id, t.supersedes FROM ticket t JOIN chain c ON t.id = c.supersedes) `+
		rejectSelect+`WHERE r.ticket IN (SELECT id FROM chain) ORDER BY r.reject_time, r.id`, ticket)
	if err != nil {
		return nil, wrap(err, "list rejected barrels")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Reject, error) { return scanReject(row) })
	return found, wrap(err, "list rejected barrels")
}
