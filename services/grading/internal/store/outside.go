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

const selectOutside = `
SELECT r.sequence, r.id, r.sample, r.analyte, r.value, r.below, r.laboratory, r.report, r.keyer, r.key_time,
       s.confirmed, coalesce(s.login, ''), s.time, coalesce(s.reason, ''), coalesce(s."over", false), s.reading, coalesce(s.explanation, '')
FROM outside_result r LEFT JOIN outside_second s ON s.result = r.id `

func scanOutside(row pgx.CollectableRow) (app.OutsideRow, error) {
	var out app.OutsideRow
	var analyte string
	var confirmed *bool
	var at *time.Time
	var second domain.OutsideSecond
	r := &out.Result
	err := row.Scan(&out.Sequence, &r.ID, &r.Sample, &analyte, &r.Found.Value, &r.Found.Below, &r.Laboratory, &r.Report, &r.Keyer, &r.KeyTime,
		&confirmed, &second.Login, &at, &second.Reason, &second.Over, &second.Reading, &second.Explanation)
	if err != nil {
		return out, err
	}
	if r.Analyte, err = domain.FindAnalyte(analyte); err != nil {
		return out, fmt.Errorf("result %s: %w", r.ID, err)
	}
	if confirmed != nil {
		second.Confirmed, second.Time = *confirmed, *at
		r.Second = &second
	}
	return out, nil
}

// OutsideResult reads one. Errors: *domain.NotFoundError.
func (Store) OutsideResult(ctx context.Context, q pg.Querier, id uuid.UUID) (domain.OutsideResult, error) {
	rows, err := q.Query(ctx, selectOutside+`WHERE r.id = $1`, id)
	if err != nil {
		return domain.OutsideResult{}, wrap(err, "read outside result")
	}
	row, err := pgx.CollectExactlyOneRow(rows, scanOutside)
	return row.Result, orNotFound(err, "read outside result", &domain.NotFoundError{Resource: domain.OutsideName(id)})
}

// OutsideResults lists newest first, before a sequence (0 is the start), of one sample or (empty) all.
func (Store) OutsideResults(ctx context.Context, q pg.Querier, sample string, before int64, most int) ([]app.OutsideRow, error) {
	rows, err := q.Query(ctx, selectOutside+`
WHERE ($1 = '' OR r.sample = $1) AND ($2::bigint = 0 OR r.sequence < $2) ORDER BY r.sequence DESC LIMIT $3`, sample, before, most)
	if err != nil {
		return nil, wrap(err, "list outside results")
	}
	list, err := pgx.CollectRows(rows, scanOutside)
	return list, wrap(err, "list outside results")
}

// OutsideOf lists every result of some samples, oldest first.
func (Store) OutsideOf(ctx context.Context, q pg.Querier, codes []string) ([]domain.OutsideResult, error) {
	rows, err := q.Query(ctx, selectOutside+`WHERE r.sample = ANY($1) ORDER BY r.sequence`, codes)
	if err != nil {
		return nil, wrap(err, "list outside results of samples")
	}
	list, err := pgx.CollectRows(rows, scanOutside)
	if err != nil {
		return nil, wrap(err, "list outside results of samples")
	}
	out := make([]domain.OutsideResult, 0, len(list))
	for i := range list {
		out = append(out, list[i].Result)
	}
	return out, nil
}

// SaveOutsideResult adds a first keying.
func (Store) SaveOutsideResult(ctx context.Context, tx pgx.Tx, r *domain.OutsideResult) error {
	const insert = `
INSERT INTO outside_result (id, sample, analyte, value, below, laboratory, report, keyer, key_time) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	_, err := tx.Exec(ctx, insert, r.ID, r.Sample, r.Analyte.ID, int64(r.Found.Value), r.Found.Below, r.Laboratory, r.Report, r.Keyer, r.KeyTime)
	return wrap(err, "save outside result")
}

// SaveOutsideSecond ends a keying.
func (Store) SaveOutsideSecond(ctx context.Context, tx pgx.Tx, id uuid.UUID, s *domain.OutsideSecond) error {
	const insert = `
INSERT INTO outside_second (result, confirmed, login, time, reason, "over", reading, explanation) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
	_, err := tx.Exec(ctx, insert, id, s.Confirmed, s.Login, s.Time, s.Reason, s.Over, s.Reading, s.Explanation)
	return wrap(err, "save second keying")
}

const selectComposite = `
SELECT c.code, c.variety, c.crop_year, c.grams_each, c.creator, c.create_time,
       (SELECT array_agg(m.sample ORDER BY m.sample) FROM composite_member m WHERE m.composite = c.code)
FROM composite c `

func scanComposite(row pgx.CollectableRow) (c domain.Composite, err error) {
	return c, row.Scan(&c.Code, &c.Variety, &c.CropYear, &c.GramsEach, &c.Creator, &c.Time, &c.Samples)
}

// Composite reads one. Errors: *domain.NotFoundError.
func (Store) Composite(ctx context.Context, q pg.Querier, code string) (domain.Composite, error) {
	rows, err := q.Query(ctx, selectComposite+`WHERE c.code = $1`, code)
	if err != nil {
		return domain.Composite{}, wrap(err, "read composite")
	}
	c, err := pgx.CollectExactlyOneRow(rows, scanComposite)
	return c, orNotFound(err, "read composite", &domain.NotFoundError{Resource: domain.CompositeName(code)})
}

// Composites lists newest first, before a key; the zero key is the start.
func (Store) Composites(ctx context.Context, q pg.Querier, before app.SampleKey, most int) ([]domain.Composite, error) {
	rows, err := q.Query(ctx, selectComposite+`
WHERE $2 = '' OR (c.create_time, c.code) < ($1, $2) ORDER BY c.create_time DESC, c.code DESC LIMIT $3`, before.DrawTime, before.Code, most)
	if err != nil {
		return nil, wrap(err, "list composites")
	}
	list, err := pgx.CollectRows(rows, scanComposite)
	return list, wrap(err, "list composites")
}

// CompositesOf lists the composites any of the samples is in.
func (Store) CompositesOf(ctx context.Context, q pg.Querier, codes []string) ([]domain.Composite, error) {
	rows, err := q.Query(ctx, selectComposite+`
WHERE c.code IN (SELECT m.composite FROM composite_member m WHERE m.sample = ANY($1)) ORDER BY c.create_time, c.code`, codes)
	if err != nil {
		return nil, wrap(err, "list composites of samples")
	}
	list, err := pgx.CollectRows(rows, scanComposite)
	return list, wrap(err, "list composites of samples")
}

// SaveComposite adds a composite with its members.
func (Store) SaveComposite(ctx context.Context, tx pgx.Tx, c *domain.Composite) error {
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO composite (code, variety, crop_year, grams_each, creator, create_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		c.Code, c.Variety, c.CropYear, int64(c.GramsEach), c.Creator, c.Time)
	b.Queue(`INSERT INTO composite_member (composite, sample) SELECT $1, unnest($2::text[])`, c.Code, c.Samples)
	return wrap(tx.SendBatch(ctx, b).Close(), "save composite")
}

// LockCodes takes samples or composites one after the other in order of code.
func (Store) LockCodes(ctx context.Context, tx pgx.Tx, codes ...string) error {
	const lock = `INSERT INTO bench (sample) SELECT c FROM unnest($1::text[]) c ORDER BY c ON CONFLICT (sample) DO UPDATE SET sample = excluded.sample`
	_, err := tx.Exec(ctx, lock, codes)
	return wrap(err, "lock samples")
}

// Suspect puts samples under suspicion of an analyte by a result.
func (Store) Suspect(ctx context.Context, tx pgx.Tx, codes []string, analyte string, result uuid.UUID) error {
	_, err := tx.Exec(ctx, `INSERT INTO suspicion (sample, analyte, result) SELECT unnest($1::text[]), $2, $3`, codes, analyte, result)
	return wrap(err, "put samples under suspicion")
}

// EndSuspicions ends every open suspicion of an analyte by a test of the sample itself and says how many there were.
func (Store) EndSuspicions(ctx context.Context, tx pgx.Tx, code, analyte string, by uuid.UUID, confirmed bool) (int64, error) {
	const end = `
INSERT INTO suspicion_end (sample, analyte, result, by_result, confirmed)
SELECT s.sample, s.analyte, s.result, $3, $4 FROM suspicion s
WHERE s.sample = $1 AND s.analyte = $2 AND NOT EXISTS (SELECT FROM suspicion_end e WHERE (e.sample, e.analyte, e.result) = (s.sample, s.analyte, s.result))`
	tag, err := tx.Exec(ctx, end, code, analyte, by, confirmed)
	return tag.RowsAffected(), wrap(err, "end suspicions")
}

// Suspicions reads what is suspected of samples.
func (Store) Suspicions(ctx context.Context, q pg.Querier, codes []string) (map[string][]domain.Suspect, error) {
	rows, err := q.Query(ctx, `
SELECT s.sample, s.analyte, s.result, e.by_result IS NOT NULL, coalesce(e.confirmed, false)
FROM suspicion s LEFT JOIN suspicion_end e ON (e.sample, e.analyte, e.result) = (s.sample, s.analyte, s.result)
WHERE s.sample = ANY($1) ORDER BY s.sample, s.analyte, s.result`, codes)
	if err != nil {
		return nil, wrap(err, "read suspicions")
	}
	out := map[string][]domain.Suspect{}
	var code string
	var s domain.Suspect
	_, err = pgx.ForEachRow(rows, []any{&code, &s.Analyte, &s.Result, &s.Ended, &s.Confirmed}, func() error {
		out[code] = append(out[code], s)
		return nil
	})
	return out, wrap(err, "read suspicions")
}

// Disposals reads what was decided on samples.
func (Store) Disposals(ctx context.Context, q pg.Querier, codes []string) (map[string]domain.Disposal, error) {
	rows, err := q.Query(ctx, `SELECT sample, disposition, reason, decider, decide_time FROM disposal WHERE sample = ANY($1)`, codes)
	if err != nil {
		return nil, wrap(err, "read disposals")
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[domain.Disposal])
	out := map[string]domain.Disposal{}
	for _, d := range list {
		out[d.Sample] = d
	}
	return out, wrap(err, "read disposals")
}

// SaveDisposal adds a decision.
func (Store) SaveDisposal(ctx context.Context, tx pgx.Tx, d *domain.Disposal) error {
	_, err := tx.Exec(ctx, `INSERT INTO disposal (sample, disposition, reason, decider, decide_time) VALUES ($1, $2, $3, $4, $5)`,
		d.Sample, string(d.Disposition), d.Reason, d.Decider, d.Time)
	return wrap(err, "save disposal")
}
