package store

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/pg"
)

// SaveGap notes a gap. Only the first of a portion counts, and repeating it changes nothing.
func (Store) SaveGap(ctx context.Context, tx pgx.Tx, g *domain.CustodyGap) error {
	const insert = `INSERT INTO custody_gap (sample, portion, reason, since_time) VALUES ($1, $2, $3, $4) ON CONFLICT (sample, portion) DO NOTHING`
	var since *time.Time
	if !g.Since.IsZero() {
		since = &g.Since
	}
	_, err := tx.Exec(ctx, insert, g.Sample, g.Portion, g.Reason, since)
	return wrap(err, "note the gap in the chain of custody")
}

// Gaps reads the gaps of samples, by portion.
func (Store) Gaps(ctx context.Context, q pg.Querier, codes ...string) (map[string][]domain.CustodyGap, error) {
	rows, err := q.Query(ctx, `SELECT sample, portion, reason, since_time FROM custody_gap WHERE sample = ANY($1) ORDER BY sample, portion`, codes)
	if err != nil {
		return nil, wrap(err, "read the gaps in the chain of custody")
	}
	gaps := map[string][]domain.CustodyGap{}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (g domain.CustodyGap, err error) {
		var since *time.Time
		if err = row.Scan(&g.Sample, &g.Portion, &g.Reason, &since); since != nil {
			g.Since = *since
		}
		return g, err
	})
	for i := range list {
		gaps[list[i].Sample] = append(gaps[list[i].Sample], list[i])
	}
	return gaps, wrap(err, "read the gaps in the chain of custody")
}
