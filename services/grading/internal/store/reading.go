package store

import (
	"cmp"
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

const selectStanding = `
SELECT id, sample, kind, factor, raw_value, temperature_c, computed, reported, instrument, analyst, read_time, replaces, reason, explanation, mean,
       CASE portion WHEN 'A' THEN '' ELSE portion END
FROM reading r
WHERE sample = ANY($1) AND NOT EXISTS (SELECT FROM reading newer WHERE newer.replaces = r.id)`

// Standing reads the readings nothing replaced.
func (Store) Standing(ctx context.Context, q pg.Querier, codes ...string) (map[string][]domain.Reading, error) {
	rows, err := q.Query(ctx, selectStanding, codes)
	if err != nil {
		return nil, wrap(err, "read readings")
	}
	list, err := pgx.CollectRows(rows, scanReading)
	if err != nil {
		return nil, wrap(err, "read readings")
	}
	standing := make(map[string][]domain.Reading, len(codes))
	for _, f := range domain.Factors() {
		for i := range list {
			if list[i].Factor == f {
				standing[list[i].Sample] = append(standing[list[i].Sample], list[i])
			}
		}
	}
	return standing, nil
}

func scanReading(row pgx.CollectableRow) (domain.Reading, error) {
	var r domain.Reading
	var kind, factor string
	err := row.Scan(&r.ID, &r.Sample, &kind, &factor, &r.RawValue, &r.Temperature, &r.Computed, &r.Reported, &r.Instrument,
		&r.Analyst, &r.Time, &r.Replaces, &r.Reason, &r.Explanation, &r.Mean, &r.Portion)
	if err != nil {
		return r, err
	}
	if err := r.Kind.UnmarshalText([]byte(kind)); err != nil {
		return r, fmt.Errorf("reading %s: %w", r.ID, err)
	}
	if err := r.Factor.UnmarshalText([]byte(factor)); err != nil {
		return r, fmt.Errorf("reading %s: %w", r.ID, err)
	}
	return r, nil
}

// Analysts reads everyone who ever measured the sample.
func (Store) Analysts(ctx context.Context, q pg.Querier, code string) ([]string, error) {
	rows, err := q.Query(ctx, `SELECT DISTINCT analyst FROM reading WHERE sample = $1 ORDER BY analyst`, code)
	if err != nil {
		return nil, wrap(err, "read analysts")
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[string])
	return list, wrap(err, "read analysts")
}

// SaveReading adds a reading.
func (Store) SaveReading(ctx context.Context, tx pgx.Tx, r *domain.Reading) error {
	const insert = `
INSERT INTO reading (id, sample, kind, factor, raw_value, temperature_c, computed, reported, instrument, analyst, read_time,
                     replaces, reason, explanation, mean, portion)
VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)`
	_, err := tx.Exec(ctx, insert, r.ID, r.Sample, r.Kind.String(), r.Factor.String(), r.RawValue, r.Temperature,
		int64(r.Computed), int64(r.Reported), r.Instrument, r.Analyst, r.Time, r.Replaces, r.Reason, r.Explanation, r.Mean, cmp.Or(r.Portion, domain.PortionA))
	return wrap(err, "save reading")
}
