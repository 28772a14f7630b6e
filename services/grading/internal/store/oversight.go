package store

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// SaveViews adds one line for each resource shown, in one statement.
func (Store) SaveViews(ctx context.Context, q pg.Querier, viewer, method string, resources []string, at time.Time) error {
	_, err := q.Exec(ctx, `INSERT INTO view_log (viewer, method, view_time, resource) SELECT $1, $2, $3, unnest($4::text[])`, viewer, method, at, resources)
	return wrap(err, "log who looked")
}

// Views lists newest first, before a sequence; 0 is the start.
func (Store) Views(ctx context.Context, q pg.Querier, resource, viewer string, before int64, most int) ([]app.ViewRow, error) {
	rows, err := q.Query(ctx, `
SELECT sequence, viewer, resource, method, view_time FROM view_log
WHERE ($1 = '' OR resource = $1) AND ($2 = '' OR viewer = $2) AND ($3::bigint = 0 OR sequence < $3) ORDER BY sequence DESC LIMIT $4`,
		resource, viewer, before, most)
	if err != nil {
		return nil, wrap(err, "list looks")
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[app.ViewRow])
	return list, wrap(err, "list looks")
}

// RunsBetween reads the runs of all controls from one moment until before another, oldest first.
func (Store) RunsBetween(ctx context.Context, q pg.Querier, from, until time.Time) ([]domain.ControlReading, error) {
	rows, err := q.Query(ctx, `
SELECT r.analyst, r.instrument, c.factor, r.value, c.target, c.sigma, r.verdict = 'FAIL'
FROM control_run r JOIN control c ON c.id = r.control WHERE r.run_time >= $1 AND r.run_time < $2 ORDER BY r.sequence`, from, until)
	if err != nil {
		return nil, wrap(err, "read control runs")
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (r domain.ControlReading, err error) {
		var factor string
		if err := row.Scan(&r.Analyst, &r.Instrument, &factor, &r.Value, &r.Target, &r.Sigma, &r.Failed); err != nil {
			return r, err
		}
		return r, r.Factor.UnmarshalText([]byte(factor))
	})
	return list, wrap(err, "read control runs")
}

// DuplicatesBetween reads the duplicates made from one moment until before another.
func (Store) DuplicatesBetween(ctx context.Context, q pg.Querier, from, until time.Time) ([]domain.Duplicate, error) {
	rows, err := q.Query(ctx, `
SELECT code, original, creator, create_time FROM duplicate WHERE create_time >= $1 AND create_time < $2 ORDER BY create_time, code`, from, until)
	if err != nil {
		return nil, wrap(err, "list duplicates")
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[domain.Duplicate])
	return list, wrap(err, "list duplicates")
}

// SaveRetirement takes a control out of use.
func (Store) SaveRetirement(ctx context.Context, tx pgx.Tx, control string, r *domain.Retirement) error {
	_, err := tx.Exec(ctx, `INSERT INTO control_retirement (control, retirer, reason, retire_time) VALUES ($1, $2, $3, $4)`, control, r.By, r.Reason, r.Time)
	return wrap(err, "retire control")
}
