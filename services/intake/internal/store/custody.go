package store

import (
	"cmp"
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// LockSample keeps two events of one sample apart until the transaction ends.
func (Store) LockSample(ctx context.Context, q pg.Querier, code string) error {
	_, err := q.Exec(ctx, `SELECT pg_advisory_xact_lock(hashtextextended('intake sample ' || $1, 0))`, code)
	return wrap(err, "lock sample")
}

// SampledBarrel reads which barrel a sample is of. It fails with NOT_FOUND.
func (Store) SampledBarrel(ctx context.Context, q pg.Querier, code string) (uuid.UUID, error) {
	var barrel uuid.UUID
	err := q.QueryRow(ctx, `SELECT barrel FROM sample WHERE code = $1`, code).Scan(&barrel)
	return barrel, orNotFound(err, "read sample", domain.Portion{Sample: code}.SampleName())
}

// Custody reads portions A, B and C of a sample, also those that were never sealed. It fails with NOT_FOUND.
func (st Store) Custody(ctx context.Context, q pg.Querier, code string) ([]domain.Portion, error) {
	if _, err := st.SampledBarrel(ctx, q, code); err != nil {
		return nil, err
	}
	rows, err := q.Query(ctx, `SELECT portion, ordinal, kind, place, seal, coalesce(expire_date::text, ''), note, gap, actor, event_time,
		record_time FROM custody_event WHERE sample = $1 ORDER BY portion, ordinal`, code)
	if err != nil {
		return nil, wrap(err, "read custody")
	}
	all := []domain.Portion{{Sample: code, Letter: "A"}, {Sample: code, Letter: "B"}, {Sample: code, Letter: "C"}}
	var letter string
	var e domain.CustodyEvent
	_, err = pgx.ForEachRow(rows, []any{
		&letter, &e.Ordinal, &e.Kind, &e.Place, &e.Seal, &e.Expires, &e.Note, &e.Gap, &e.Actor, &e.Time, &e.RecordTime,
	}, func() error {
		p := &all[letter[0]-'A']
		p.Events = append(p.Events, e)
		return nil
	})
	return all, wrap(err, "read custody")
}

// InsertCustody stores the next event of a portion. It fails with ALREADY_EXISTS for a seal that was put on before.
func (Store) InsertCustody(ctx context.Context, q pg.Querier, p domain.Portion, e domain.CustodyEvent) error {
	_, err := q.Exec(ctx, `INSERT INTO custody_event (sample, portion, ordinal, kind, place, seal, expire_date, note, gap, actor, event_time,
			record_time) VALUES ($1, $2, $3, $4, $5, $6, nullif($7, '')::date, $8, $9, $10, $11, $12)`,
		p.Sample, p.Letter, e.Ordinal, e.Kind, e.Place, e.Seal, e.Expires, e.Note, e.Gap, e.Actor, e.Time, e.RecordTime)
	return wrap(pg.Named(err, map[string]error{
		"custody_seal_once": domain.AlreadyExists("seals/"+e.Seal, "seal %s was put on a sample before: read the number again", e.Seal),
	}), "insert custody")
}

// PortionsDue lists portions whose newest seal has a date not after the one asked for and that were not discarded. It walks the
// seals by date; of the few that were sealed again, or thrown away, it looks at the later events.
func (Store) PortionsDue(ctx context.Context, q pg.Querier, f domain.DueFilter) ([]domain.PortionDue, error) {
	rows, err := q.Query(ctx, `SELECT e.sample, e.portion, e.seal, e.expire_date::text, l.place, l.kind
		FROM custody_event e
		JOIN LATERAL (SELECT k.place, k.kind FROM custody_event k WHERE k.sample = e.sample AND k.portion = e.portion
			ORDER BY k.ordinal DESC LIMIT 1) l ON l.kind <> 'DISCARDED'
		WHERE e.kind = 'SEALED' AND e.expire_date <= $1::date AND (e.expire_date, e.sample, e.portion) > ($2::date, $3, $4)
			AND NOT EXISTS (SELECT FROM custody_event n WHERE n.sample = e.sample AND n.portion = e.portion AND n.kind = 'SEALED' AND n.ordinal > e.ordinal)
		ORDER BY e.expire_date, e.sample, e.portion LIMIT $5`,
		f.Date, cmp.Or(f.AfterDate, "0001-01-01"), f.Sample, f.Letter, f.Limit)
	if err != nil {
		return nil, wrap(err, "list portions due")
	}
	found, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (domain.PortionDue, error) {
		var d domain.PortionDue
		err := row.Scan(&d.Sample, &d.Letter, &d.Seal, &d.Expires, &d.Place, &d.Last)
		return d, err
	})
	return found, wrap(err, "list portions due")
}
