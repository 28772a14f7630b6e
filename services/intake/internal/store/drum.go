package store

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
)

const (
	fillSelect = `SELECT b.id, b.tare, b.tare_kind, b.weigh_time, l.ticket FROM barrel b
		JOIN ticket_line l ON l.barrel = b.id JOIN ticket t ON t.id = l.ticket AND t.state <> 'SUPERSEDED'
		WHERE b.drum_tag = $1 AND b.open`
	releaseSelect = `SELECT tare, tare_kind, tare_time, empty_weight, release_time FROM drum_release
		WHERE drum_tag = $1 ORDER BY release_time DESC LIMIT 20`
)

// Drum reads a drum with its filling and its latest tares. It fails with NOT_FOUND for a drum that was neither filled nor registered.
func (st Store) Drum(ctx context.Context, q pg.Querier, tag string) (domain.Drum, error) {
	d := domain.Drum{Tag: tag}
	var f domain.Fill
	err := q.QueryRow(ctx, fillSelect, tag).Scan(&f.Barrel, &f.Tare, &f.TareKind, &f.WeighTime, &f.Ticket.ID)
	switch {
	case err == nil:
		if f.Ticket, err = st.TicketHead(ctx, q, f.Ticket.ID); err != nil {
			return d, err
		}
		d.Fill = &f
	case !errors.Is(err, pgx.ErrNoRows):
		return d, wrap(err, "read the filling of a drum")
	}
	if d.Tares, err = tares(ctx, q, tag); err != nil {
		return d, err
	}
	if d.Asset, err = st.Asset(ctx, q, tag); err != nil {
		return d, err
	}
	if d.Fill == nil && len(d.Tares) == 0 && d.Asset.RegisterTime.IsZero() {
		return d, domain.NotFound(d.Name())
	}
	return d, nil
}

func tares(ctx context.Context, q pg.Querier, tag string) ([]domain.Tare, error) {
	rows, err := q.Query(ctx, releaseSelect, tag)
	if err != nil {
		return nil, wrap(err, "read the tares of a drum")
	}
	var all []domain.Tare
	var stated quantity.Mass
	var kind domain.TareKind
	var statedTime, releaseTime time.Time
	var empty *int64
	_, err = pgx.ForEachRow(rows, []any{&stated, &kind, &statedTime, &empty, &releaseTime}, func() error {
		if empty != nil {
			all = append(all, domain.Tare{Weight: quantity.Mass(*empty), Weighed: true, Time: releaseTime})
		}
		all = append(all, domain.Tare{Weight: stated, Weighed: kind.Weighed(), Time: statedTime})
		return nil
	})
	return all, wrap(err, "read the tares of a drum")
}

// LockDrum keeps two releases of one drum apart until the transaction ends.
func (Store) LockDrum(ctx context.Context, q pg.Querier, tag string) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('intake drum ' || $1, 0))`, tag)
	return wrap(err, "lock drum")
}

// FreeDrums ends the filling of barrels and keeps what is known of the empty weight; barrels whose drum is free already
// are left alone.
func (Store) FreeDrums(ctx context.Context, q pg.Querier, r domain.Release) error {
	_, err := q.Exec(ctx, `WITH freed AS (
			UPDATE barrel SET open = false WHERE id = ANY($1) AND open RETURNING id, drum_tag, tare, tare_kind, weigh_time)
		INSERT INTO drum_release (barrel, drum_tag, tare, tare_kind, tare_time, empty_weight, reason, releaser, release_time)
		SELECT id, drum_tag, tare, tare_kind, weigh_time, $2, $3, $4, $5 FROM freed`,
		r.Barrels, nullMass(r.EmptyWeight), r.Reason, r.Releaser, r.Time)
	return wrap(err, "free drums")
}

func nullMass(m quantity.Mass) *int64 {
	if m == 0 {
		return nil
	}
	v := int64(m)
	return &v
}
