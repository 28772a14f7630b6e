package store

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// InsertScale fails with ALREADY_EXISTS.
func (Store) InsertScale(ctx context.Context, q pg.Querier, s domain.Scale) error {
	_, err := q.Exec(ctx, `INSERT INTO scale (id, description, division, capacity, accuracy_class, seal,
			certificate_expire_date, creator, create_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		s.ID, s.Description, s.Division, s.Capacity, s.Class, s.Seal, orNull(s.CertificateExpireDate), s.Creator, s.CreateTime)
	return wrap(pg.Named(err, map[string]error{
		"scale_pk": domain.AlreadyExists(s.Name(), "there is a scale %s already: choose another id", s.ID),
	}), "insert scale")
}

// LockScaleForCheck waits for the weighings under way on a scale and keeps new ones waiting until the transaction ends,
// so a barrel was weighed either before a check or after it.
func (Store) LockScaleForCheck(ctx context.Context, q pg.Querier, id string) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(`+scaleLock+`)`, id)
	return wrap(err, "lock scale")
}

// scaleLock is the advisory lock of a scale: a lock on its row would be a write by every weighing.
const scaleLock = `hashtextextended('intake scale ' || $1, 0)`

const scaleColumns = `s.id, s.description, s.division, s.capacity, s.accuracy_class, s.seal,
	coalesce(s.certificate_expire_date::text, ''), c.id, c.ordinal, c.zero_indication, c.tolerance_kind, c.passed, c.finding,
	c.seal, c.checker, c.check_time, c.check_date::text`

// The newest check by the index on (scale, ordinal), never a scan of all.
const scaleSelect = `SELECT ` + scaleColumns + ` FROM scale s LEFT JOIN LATERAL
	(SELECT * FROM scale_check k WHERE k.scale = s.id ORDER BY k.ordinal DESC LIMIT 1) c ON true `

// Scale is a scale with its newest check, without the loads of that check. It fails with NOT_FOUND.
func (Store) Scale(ctx context.Context, q pg.Querier, id string) (domain.Scale, error) {
	s, err := scanScale(q.QueryRow(ctx, scaleSelect+`WHERE s.id = $1`, id))
	return s, orNotFound(err, "read scale", domain.Scale{ID: id}.Name())
}

// LockScalesOfTicket keeps the scales a ticket was weighed on from being checked until the transaction ends. It comes before
// the lock of the ticket, as in a weighing: the other way round a check waiting in between would make both wait.
func (Store) LockScalesOfTicket(ctx context.Context, q pg.Querier, ticket uuid.UUID) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock_shared(hashtextextended('intake scale ' || scale, 0))
		FROM (SELECT DISTINCT b.scale FROM ticket_line l JOIN barrel b ON b.id = l.barrel WHERE l.ticket = $1 ORDER BY 1) used`, ticket)
	return wrap(err, "lock the scales of a ticket")
}

// ScalesByID reads scales with the newest check of each, without its loads.
func (Store) ScalesByID(ctx context.Context, q pg.Querier, ids []string) ([]domain.Scale, error) {
	return collectScales(q.Query(ctx, scaleSelect+`WHERE s.id = ANY($1) ORDER BY s.id`, ids))
}

// Scales lists all with the newest check of each and its loads.
func (st Store) Scales(ctx context.Context, q pg.Querier) ([]domain.Scale, error) {
	scales, err := collectScales(q.Query(ctx, scaleSelect+`ORDER BY s.id`))
	if err != nil {
		return nil, err
	}
	checks := map[uuid.UUID]*domain.Check{}
	var ids []uuid.UUID
	for _, s := range scales {
		if s.LastCheck != nil {
			checks[s.LastCheck.ID] = s.LastCheck
			ids = append(ids, s.LastCheck.ID)
		}
	}
	if err := st.readLoads(ctx, q, ids, checks); err != nil {
		return nil, err
	}
	return scales, readCare(ctx, q, scales)
}

func readCare(ctx context.Context, q pg.Querier, scales []domain.Scale) error {
	rows, err := q.Query(ctx, `SELECT s.id,
			coalesce((SELECT c.check_date::text FROM scale_check c WHERE c.scale = s.id AND c.corners ORDER BY c.ordinal DESC LIMIT 1), ''),
			coalesce((SELECT c.seal FROM scale_check c WHERE c.scale = s.id AND c.passed AND c.tolerance_kind = 'ACCEPTANCE' AND c.seal <> ''
				ORDER BY c.ordinal DESC LIMIT 1), s.seal)
		FROM scale s`)
	if err != nil {
		return wrap(err, "read the care of scales")
	}
	known := map[string]domain.Care{}
	var id string
	var care domain.Care
	_, err = pgx.ForEachRow(rows, []any{&id, &care.CornerDate, &care.SealOnRecord}, func() error {
		known[id] = care
		return nil
	})
	for i := range scales {
		scales[i].Care = known[scales[i].ID]
	}
	return wrap(err, "read the care of scales")
}

func (Store) readLoads(ctx context.Context, q pg.Querier, ids []uuid.UUID, checks map[uuid.UUID]*domain.Check) error {
	rows, err := q.Query(ctx, `SELECT scale_check, weight_id, known, indication, position, tolerance, error, passed
		FROM scale_check_load WHERE scale_check = ANY($1) ORDER BY scale_check, ordinal`, ids)
	if err != nil {
		return wrap(err, "read check loads")
	}
	var id uuid.UUID
	var l domain.Load
	_, err = pgx.ForEachRow(rows, []any{&id, &l.WeightID, &l.Known, &l.Indication, &l.Position, &l.Tolerance, &l.Error, &l.Passed},
		func() error {
			checks[id].Loads = append(checks[id].Loads, l)
			return nil
		})
	return wrap(err, "read check loads")
}

func collectScales(rows pgx.Rows, err error) ([]domain.Scale, error) {
	if err != nil {
		return nil, wrap(err, "list scales")
	}
	scales, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.Scale, error) { return scanScale(row) })
	return scales, wrap(err, "list scales")
}

func scanScale(row pgx.Row) (domain.Scale, error) {
	var s domain.Scale
	var c nullCheck
	err := row.Scan(&s.ID, &s.Description, &s.Division, &s.Capacity, &s.Class, &s.Seal, &s.CertificateExpireDate,
		&c.id, &c.ordinal, &c.zero, &c.column, &c.passed, &c.finding, &c.seal, &c.checker, &c.time, &c.date)
	if s.LastCheck = c.check(s.ID); s.LastCheck != nil {
		s.LastCheck.Class = s.Class
	}
	return s, err
}

// InsertCheck stores a judged check under the next ordinal of its scale, which must be locked.
func (Store) InsertCheck(ctx context.Context, q pg.Querier, c *domain.Check) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO scale_check (id, scale, ordinal, zero_indication, tolerance_kind, passed, finding, checker, check_time,
			check_date, seal, corners)
		SELECT $1, $2, coalesce(max(ordinal), 0) + 1, $3, $4, $5, $6, $7, $8, $9::date, $10, $11 FROM scale_check WHERE scale = $2
		RETURNING ordinal`,
		c.ID, c.Scale, c.Zero, c.Column, c.Passed, c.Finding, c.Checker, c.Time, c.Date,
		c.Seal, c.Corners(),
	).QueryRow(func(row pgx.Row) error { return row.Scan(&c.Ordinal) })
	for i, l := range c.Loads {
		b.Queue(`INSERT INTO scale_check_load (scale_check, ordinal, weight_id, known, indication, position, tolerance, error,
				passed) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
			c.ID, i+1, l.WeightID, l.Known, l.Indication, l.Position, l.Tolerance, l.Error, l.Passed)
	}
	return wrap(q.SendBatch(ctx, b).Close(), "insert scale check")
}
