package feed

import (
	"context"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
)

// Status is how far a consumer has come, as all replicas see it.
type Status struct {
	Consumer, Source string
	LogID            string
	Sequence         int64
	// HeadSequence is the neighbour's newest event when it last spoke.
	HeadSequence int64
	UpdateTime   time.Time
	// HaltedSequence is 0 while the source is not halted.
	HaltedSequence int64
	HaltedReason   string
	HaltTime       time.Time
}

// Lag is how many events are known and not yet applied.
func (s Status) Lag() int64 { return max(s.HeadSequence-s.Sequence, 0) }

const selectStatus = `
SELECT consumer, source, log_id, sequence, head_sequence, update_time, coalesce(halted_sequence, 0), coalesce(halted_reason, ''),
       coalesce(halt_time, 'epoch')
FROM feed_cursor ORDER BY halted_sequence IS NULL, consumer`

// Statuses lists all consumers of the service that have ever run, halted ones first.
func Statuses(ctx context.Context, db pg.Querier) ([]Status, error) {
	rows, err := db.Query(ctx, selectStatus)
	if err != nil {
		return nil, fmt.Errorf("list the feeds: %w", err)
	}
	all, err := pgx.CollectRows(rows, pgx.RowToStructByPos[Status])
	if err != nil {
		return nil, fmt.Errorf("list the feeds: %w", err)
	}
	return all, nil
}

// Halted is nil, or names every halted source: for a service's health detail, which degrades without making the service
// unready.
func Halted(ctx context.Context, db pg.Querier) error {
	all, err := Statuses(ctx, db)
	if err != nil {
		return err
	}
	for _, s := range all {
		if s.HaltedSequence > 0 {
			return fmt.Errorf("feed %s of %s is halted at event %d: %s", s.Consumer, s.Source, s.HaltedSequence, s.HaltedReason)
		}
	}
	return nil
}
