package feed

import (
	"context"
	"fmt"

	"github.com/jackc/pgx/v5"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
)

// Rebuild is RebuildWith without a report.
func (c *Consumer) Rebuild(ctx context.Context) error {
	return c.RebuildWith(ctx, func(int64, int64) {})
}

// RebuildWith empties the read tables and fills them again from the start of the feed up to the cursor, in one
// transaction: readers see the old rows until the new ones are complete. Apply runs with Rebuilding(ctx) true and its
// facts are dropped, since they were recorded when the events came first. Running consumers wait meanwhile. progress is
// told how many events of how many are done.
//
// It also ends a halt, and is the way out after a neighbour's log was replaced: then the cursor follows the new log, and
// what that log holds beyond the old cursor is applied as new. Skipped events stay skipped.
func (c *Consumer) RebuildWith(ctx context.Context, progress func(done, of int64)) error {
	if err := c.fill(); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	if _, err := c.load(ctx, c.DB.Pool()); err != nil {
		return err
	}
	err := c.DB.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		cur, err := scanCursor(tx.QueryRow(ctx, lockCursor, c.Name))
		if err != nil {
			return err
		}
		// The transaction waits for the neighbour between pages, and may be long.
		if _, err := tx.Exec(ctx, "SET LOCAL idle_in_transaction_session_timeout = 0; SET LOCAL statement_timeout = 0", pgx.QueryExecModeSimpleProtocol); err != nil {
			return err
		}
		for _, table := range c.ReadTables {
			if _, err := tx.Exec(ctx, "DELETE FROM "+pgx.Identifier{table}.Sanitize()); err != nil {
				return fmt.Errorf("empty %s: %w", table, err)
			}
		}
		return c.refill(ctx, tx, cur, progress)
	})
	if err != nil {
		return fmt.Errorf("rebuild %s: %w", c.Name, err)
	}
	c.Wake()
	return nil
}

func (c *Consumer) refill(ctx context.Context, tx pgx.Tx, cur cursor, progress func(done, of int64)) error {
	skipped, err := c.skippedEvents(ctx, tx)
	if err != nil {
		return err
	}
	stream, err := c.Client.Watch(ctx, &feedv1.WatchRequest{MaxEvents: c.MaxEvents}, callOptions...)
	if err != nil {
		return fmt.Errorf("open the feed of %s: %w", c.Source, err)
	}
	target := cur.sequence
	for done := int64(0); ; {
		answer, err := stream.Recv()
		if err != nil {
			return fmt.Errorf("read the feed of %s: %w", c.Source, err)
		}
		if answer.GetAfterSequence() != done {
			return &GapError{Expected: done, Got: answer.GetAfterSequence()}
		}
		target = min(target, answer.GetHeadSequence())
		if done, err = c.refillPage(ctx, tx, answer, target, skipped); err != nil {
			return err
		}
		progress(done, target)
		if done >= target {
			_, err := tx.Exec(ctx, moveCursor, c.Name, answer.GetLogId(), target, answer.GetHeadSequence(), c.Clock.Now())
			if err == nil {
				_, err = tx.Exec(ctx, resumeCursor, c.Name)
			}
			return err
		}
	}
}

func (c *Consumer) refillPage(ctx context.Context, tx pgx.Tx, answer *feedv1.WatchResponse, target int64, skipped map[skippedKey]bool) (int64, error) {
	ctx = context.WithValue(ctx, rebuildingKey{}, true)
	done := answer.GetAfterSequence()
	for _, p := range answer.GetEvents() {
		if p.GetSequence() > target {
			break
		}
		if !skipped[skippedKey{answer.GetLogId(), p.GetSequence()}] {
			if _, err := c.applyEvent(ctx, tx, p); err != nil {
				return done, fmt.Errorf("apply event %d of %s: %w", p.GetSequence(), c.Source, err)
			}
		}
		done = p.GetSequence()
	}
	return done, nil
}

type skippedKey struct {
	logID    string
	sequence int64
}

func (c *Consumer) skippedEvents(ctx context.Context, tx pgx.Tx) (map[skippedKey]bool, error) {
	rows, err := tx.Query(ctx, `SELECT log_id, sequence FROM feed_skipped WHERE consumer = $1`, c.Name)
	if err != nil {
		return nil, fmt.Errorf("read the skipped events: %w", err)
	}
	skipped := map[skippedKey]bool{}
	var key skippedKey
	_, err = pgx.ForEachRow(rows, []any{&key.logID, &key.sequence}, func() error {
		skipped[key] = true
		return nil
	})
	return skipped, err
}
