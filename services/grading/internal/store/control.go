package store

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// LockFactors lets readings be recorded side by side but not beside a control run of the same factor. A closed bench is a
// *domain.BenchClosedError. The order of the rows is the order of factors, so that no two callers wait for each other.
func (s Store) LockFactors(ctx context.Context, tx pgx.Tx, factors ...domain.Factor) error {
	rows, err := tx.Query(ctx, `SELECT factor, closed_by FROM factor_bench WHERE factor = ANY($1) ORDER BY factor FOR SHARE`, factorNames(factors))
	if err != nil {
		return wrap(err, "look at the bench")
	}
	type closure struct {
		name string
		run  *uuid.UUID
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (c closure, err error) {
		return c, row.Scan(&c.name, &c.run)
	})
	if err != nil {
		return wrap(err, "look at the bench")
	}
	for _, c := range list {
		if c.run == nil {
			continue
		}
		closed := &domain.BenchClosedError{}
		if err := closed.Factor.UnmarshalText([]byte(c.name)); err != nil {
			return wrap(err, "look at the bench")
		}
		if closed.Run, err = s.ControlRun(ctx, tx, *c.run); err != nil {
			return err
		}
		return closed
	}
	return nil
}

func factorNames(factors []domain.Factor) []string {
	names := make([]string, 0, len(factors))
	for _, f := range factors {
		names = append(names, f.String())
	}
	return names
}

// LockBench takes the bench of a factor alone and says which run keeps it closed.
func (Store) LockBench(ctx context.Context, tx pgx.Tx, f domain.Factor) (closedBy *uuid.UUID, err error) {
	err = tx.QueryRow(ctx, `SELECT closed_by FROM factor_bench WHERE factor = $1 FOR UPDATE`, f.String()).Scan(&closedBy)
	return closedBy, wrap(err, "lock the bench")
}

// SetBench closes the bench of a factor by a run, or opens it.
func (Store) SetBench(ctx context.Context, tx pgx.Tx, f domain.Factor, closedBy *uuid.UUID) error {
	_, err := tx.Exec(ctx, `UPDATE factor_bench SET closed_by = $2 WHERE factor = $1`, f.String(), closedBy)
	return wrap(err, "set the bench")
}

// SaveControl adds a control. Errors: *domain.TakenError.
func (Store) SaveControl(ctx context.Context, tx pgx.Tx, c *domain.Control) error {
	const insert = `
INSERT INTO control (id, factor, material, target, sigma, basis, creator, create_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
	_, err := tx.Exec(ctx, insert, c.ID, c.Factor.String(), c.Material, int64(c.Target), int64(c.Sigma), c.Basis, c.Creator, c.Time)
	err = pg.Named(err, map[string]error{"control_pk": &domain.TakenError{Resource: c.Name()}})
	return wrap(err, "save control")
}

const selectControl = `
SELECT c.id, c.factor, c.material, c.target, c.sigma, c.basis, c.creator, c.create_time, b.closed_by,
       t.retirer, t.reason, t.retire_time
FROM control c JOIN factor_bench b ON b.factor = c.factor LEFT JOIN control_retirement t ON t.control = c.id `

func scanControl(row pgx.CollectableRow) (app.ControlRow, error) {
	var r app.ControlRow
	var factor string
	var by, reason *string
	var at *time.Time
	c := &r.Control
	err := row.Scan(&c.ID, &factor, &c.Material, &c.Target, &c.Sigma, &c.Basis, &c.Creator, &c.Time, &r.ClosedBy, &by, &reason, &at)
	if err != nil {
		return r, err
	}
	if by != nil {
		c.Retired = &domain.Retirement{By: *by, Reason: *reason, Time: *at}
	}
	return r, c.Factor.UnmarshalText([]byte(factor))
}

// Control reads one. Errors: *domain.NotFoundError.
func (Store) Control(ctx context.Context, q pg.Querier, id string) (domain.Control, error) {
	rows, err := q.Query(ctx, selectControl+`WHERE c.id = $1`, id)
	if err != nil {
		return domain.Control{}, wrap(err, "read control")
	}
	row, err := pgx.CollectExactlyOneRow(rows, scanControl)
	return row.Control, orNotFound(err, "read control", &domain.NotFoundError{Resource: domain.ControlName(id)})
}

// Controls lists all by id with their newest runs.
func (s Store) Controls(ctx context.Context, q pg.Querier) ([]app.ControlRow, error) {
	rows, err := q.Query(ctx, selectControl+`ORDER BY c.id`)
	if err != nil {
		return nil, wrap(err, "list controls")
	}
	list, err := pgx.CollectRows(rows, scanControl)
	if err != nil {
		return nil, wrap(err, "list controls")
	}
	return list, s.addLastRuns(ctx, q, list)
}

func (Store) addLastRuns(ctx context.Context, q pg.Querier, list []app.ControlRow) error {
	rows, err := q.Query(ctx, selectRun+`WHERE r.sequence IN (SELECT max(sequence) FROM control_run GROUP BY control)`)
	if err != nil {
		return wrap(err, "list last runs")
	}
	last, err := pgx.CollectRows(rows, scanRun)
	if err != nil {
		return wrap(err, "list last runs")
	}
	for i := range list {
		for j := range last {
			if last[j].Run.Control == list[i].Control.ID {
				list[i].Last = &last[j]
			}
		}
	}
	return nil
}

// SaveControlRun adds a run.
func (Store) SaveControlRun(ctx context.Context, tx pgx.Tx, r *domain.ControlRun) error {
	const insert = `
INSERT INTO control_run (id, control, kind, raw_value, temperature_c, value, verdict, instrument, analyst, run_time, explanation)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`
	_, err := tx.Exec(ctx, insert, r.ID, r.Control, r.Kind.String(), r.RawValue, r.Temperature, int64(r.Value), string(r.Verdict),
		r.Instrument, r.Analyst, r.Time, r.Explanation)
	return wrap(err, "save control run")
}

const selectRun = `
SELECT r.sequence, r.id, r.control, r.kind, r.raw_value, r.temperature_c, r.value, r.verdict, r.instrument, r.analyst, r.run_time,
       r.explanation, (SELECT count(*) FROM reading_doubted d WHERE d.run = r.id)
FROM control_run r `

func scanRun(row pgx.CollectableRow) (app.RunRow, error) {
	var out app.RunRow
	var kind string
	r := &out.Run
	err := row.Scan(&out.Sequence, &r.ID, &r.Control, &kind, &r.RawValue, &r.Temperature, &r.Value, &r.Verdict, &r.Instrument,
		&r.Analyst, &r.Time, &r.Explanation, &out.Doubted)
	if err != nil {
		return out, err
	}
	return out, r.Kind.UnmarshalText([]byte(kind))
}

// ControlRun reads one. Errors: *domain.NotFoundError.
func (Store) ControlRun(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.ControlRun, error) {
	rows, err := q.Query(ctx, selectRun+`WHERE r.id = $1`, id)
	if err != nil {
		return domain.ControlRun{}, wrap(err, "read control run")
	}
	row, err := pgx.CollectExactlyOneRow(rows, scanRun)
	return row.Run, orNotFound(err, "read control run", &domain.NotFoundError{Resource: domain.ControlRunName(id)})
}

// ControlRuns lists newest first, before a sequence; 0 is the start.
func (Store) ControlRuns(ctx context.Context, q pg.Querier, control string, before int64, most int) ([]app.RunRow, error) {
	rows, err := q.Query(ctx, selectRun+`
WHERE r.control = $1 AND ($2::bigint = 0 OR r.sequence < $2) ORDER BY r.sequence DESC LIMIT $3`, control, before, most)
	if err != nil {
		return nil, wrap(err, "list control runs")
	}
	list, err := pgx.CollectRows(rows, scanRun)
	return list, wrap(err, "list control runs")
}

// LastPass is when a control last passed, or when it was made.
func (Store) LastPass(ctx context.Context, q pg.Querier, control string) (time.Time, error) {
	const last = `
SELECT coalesce((SELECT run_time FROM control_run WHERE control = $1 AND verdict = 'PASS' ORDER BY sequence DESC LIMIT 1), create_time)
FROM control WHERE id = $1`
	var at time.Time
	err := q.QueryRow(ctx, last, control).Scan(&at)
	return at, wrap(err, "find the last passing run")
}

// Doubt puts the readings of a factor since a time in doubt.
func (Store) Doubt(ctx context.Context, tx pgx.Tx, f domain.Factor, since time.Time, run uuid.UUID) error {
	const insert = `
INSERT INTO reading_doubted (reading, run) SELECT id, $3 FROM reading WHERE factor = $1 AND read_time >= $2`
	_, err := tx.Exec(ctx, insert, f.String(), since, run)
	return wrap(err, "put readings in doubt")
}

// Confirm takes the doubt of a run off its readings.
func (Store) Confirm(ctx context.Context, tx pgx.Tx, run uuid.UUID, by, reason string, at time.Time) error {
	const insert = `
INSERT INTO reading_confirmed (reading, run, confirmer, reason, confirm_time)
SELECT reading, run, $2, $3, $4 FROM reading_doubted WHERE run = $1 ON CONFLICT (reading, run) DO NOTHING`
	_, err := tx.Exec(ctx, insert, run, by, reason, at)
	return wrap(err, "confirm readings")
}

// Doubted lists the readings a run put in doubt that nobody confirmed, oldest first, with the certificate of the sample
// where it rests on the reading.
func (Store) Doubted(ctx context.Context, q pg.Querier, run uuid.UUID) ([]app.Doubt, error) {
	const list = `
SELECT r.id, r.sample, r.analyst,
       (SELECT b.certificate FROM bench b JOIN certificate c ON c.id = b.certificate
        WHERE b.sample = r.sample AND EXISTS (SELECT FROM json_array_elements(c.readings) e WHERE e->>'id' = r.id::text))
FROM reading_doubted d JOIN reading r ON r.id = d.reading
WHERE d.run = $1 AND NOT EXISTS (SELECT FROM reading_confirmed c WHERE c.reading = d.reading AND c.run = d.run)
ORDER BY r.read_time, r.id`
	rows, err := q.Query(ctx, list, run)
	if err != nil {
		return nil, wrap(err, "list doubted readings")
	}
	doubts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[app.Doubt])
	return doubts, wrap(err, "list doubted readings")
}

// InDoubt picks those of the readings that are in doubt.
func (Store) InDoubt(ctx context.Context, q pg.Querier, ids []uuid.UUID) (map[uuid.UUID]bool, error) {
	const pick = `
SELECT DISTINCT d.reading FROM reading_doubted d
WHERE d.reading = ANY($1) AND NOT EXISTS (SELECT FROM reading_confirmed c WHERE c.reading = d.reading AND c.run = d.run)`
	rows, err := q.Query(ctx, pick, ids)
	if err != nil {
		return nil, wrap(err, "look for doubts")
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		return nil, wrap(err, "look for doubts")
	}
	doubted := make(map[uuid.UUID]bool, len(list))
	for _, id := range list {
		doubted[id] = true
	}
	return doubted, nil
}

// LockSamples locks the bench rows of samples in order of code.
func (Store) LockSamples(ctx context.Context, tx pgx.Tx, codes []string) error {
	if _, err := tx.Exec(ctx, `SELECT FROM bench WHERE sample = ANY($1) ORDER BY sample FOR UPDATE`, codes); err != nil {
		return fmt.Errorf("lock samples: %w", err)
	}
	return nil
}

// CertificateOf reads the certificates of samples that stand, by code.
func (Store) CertificateOf(ctx context.Context, q pg.Querier, codes []string) (map[string]uuid.UUID, error) {
	rows, err := q.Query(ctx, `SELECT sample, certificate FROM bench WHERE sample = ANY($1) AND certificate IS NOT NULL`, codes)
	if err != nil {
		return nil, wrap(err, "read certificates of samples")
	}
	standing := map[string]uuid.UUID{}
	var code string
	var id uuid.UUID
	_, err = pgx.ForEachRow(rows, []any{&code, &id}, func() error {
		standing[code] = id
		return nil
	})
	return standing, wrap(err, "read certificates of samples")
}
