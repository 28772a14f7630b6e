package store

import (
	"context"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const selectBench = `
SELECT s.code, s.variety, s.crop_year, s.draw_time, coalesce(s.original, ''), coalesce(b.state, 'WAITING'), b.certificate
FROM jar s LEFT JOIN bench b ON b.sample = s.code `

func scanBench(row pgx.CollectableRow) (app.BenchRow, error) {
	var r app.BenchRow
	var state string
	err := row.Scan(&r.Sample.Code, &r.Sample.Variety, &r.Sample.CropYear, &r.Sample.DrawTime, &r.Sample.Original, &state, &r.Certificate)
	r.State = domain.ParseSampleState(state)
	return r, err
}

// Sample reads one sample. A sample drawn a moment ago may not have arrived yet, so the refusal says to wait.
func (Store) Sample(ctx context.Context, q pg.Querier, code string) (app.BenchRow, error) {
	rows, err := q.Query(ctx, selectBench+`WHERE s.code = $1`, code)
	if err != nil {
		return app.BenchRow{}, wrap(err, "read sample")
	}
	row, err := pgx.CollectExactlyOneRow(rows, scanBench)
	name := domain.SampleName(code)
	return row, orNotFound(err, "read sample", &domain.NotFoundError{
		Resource: name,
		Message:  name + " does not exist here: if it was drawn just now wait a moment and try again, else compare the code with the jar",
	})
}

// Samples lists oldest first.
func (Store) Samples(ctx context.Context, q pg.Querier, after app.SampleKey, state domain.SampleState, most int) ([]app.BenchRow, error) {
	wanted := ""
	if state != 0 {
		wanted = state.String()
	}
	rows, err := q.Query(ctx, selectBench+`
WHERE (s.draw_time, s.code) > ($1, $2) AND ($3 = '' OR coalesce(b.state, 'WAITING') = $3)
ORDER BY s.draw_time, s.code LIMIT $4`, after.DrawTime, after.Code, wanted, most)
	if err != nil {
		return nil, wrap(err, "list samples")
	}
	list, err := pgx.CollectRows(rows, scanBench)
	return list, wrap(err, "list samples")
}

// Lock takes the bench row, made on the first touch, so that a sample is changed by one transaction at a time. It is a
// row of its own because the sample itself may be emptied and refilled by a rebuild. For a sample that does not exist the
// row goes away with the transaction.
func (s Store) Lock(ctx context.Context, tx pgx.Tx, code string) (app.BenchRow, error) {
	const lock = `INSERT INTO bench (sample) VALUES ($1) ON CONFLICT (sample) DO UPDATE SET sample = excluded.sample`
	if _, err := tx.Exec(ctx, lock, code); err != nil {
		return app.BenchRow{}, wrap(err, "lock sample")
	}
	return s.Sample(ctx, tx, code)
}

// SavePosition notes where a locked sample stands now.
func (Store) SavePosition(ctx context.Context, tx pgx.Tx, code string, p app.Position) error {
	_, err := tx.Exec(ctx, `UPDATE bench SET state = $2, certificate = $3 WHERE sample = $1`, code, p.State.String(), p.Certificate)
	return wrap(err, "save where the sample stands")
}

// AddSample puts a sample on the bench. Repeating it changes nothing: the feed may bring an event twice.
func (Store) AddSample(ctx context.Context, tx pgx.Tx, s domain.Sample) error {
	const insert = `INSERT INTO sample (code, variety, crop_year, draw_time) VALUES ($1, $2, $3, $4) ON CONFLICT (code) DO NOTHING`
	_, err := tx.Exec(ctx, insert, s.Code, s.Variety, s.CropYear, s.DrawTime)
	return wrap(err, "add sample")
}

// SaveDuplicate adds a jar.
func (Store) SaveDuplicate(ctx context.Context, tx pgx.Tx, d *domain.Duplicate) error {
	const insert = `INSERT INTO duplicate (code, original, creator, create_time) VALUES ($1, $2, $3, $4)`
	_, err := tx.Exec(ctx, insert, d.Code, d.Original, d.Creator, d.Time)
	return wrap(err, "save duplicate")
}

// DuplicatesOf lists the codes of the other jars of a sample.
func (Store) DuplicatesOf(ctx context.Context, q pg.Querier, code string) ([]string, error) {
	rows, err := q.Query(ctx, `SELECT code FROM duplicate WHERE original = $1 ORDER BY code`, code)
	if err != nil {
		return nil, wrap(err, "list jars")
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	return list, wrap(err, "list jars")
}

// Duplicates lists newest first, before a key; the zero key is the start.
func (Store) Duplicates(ctx context.Context, q pg.Querier, before app.SampleKey, most int) ([]domain.Duplicate, error) {
	rows, err := q.Query(ctx, `
SELECT code, original, creator, create_time FROM duplicate
WHERE $2 = '' OR (create_time, code) < ($1, $2) ORDER BY create_time DESC, code DESC LIMIT $3`, before.DrawTime, before.Code, most)
	if err != nil {
		return nil, wrap(err, "list duplicates")
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[domain.Duplicate])
	return list, wrap(err, "list duplicates")
}
