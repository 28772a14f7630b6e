package feed

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
	"go.uber.org/zap"

	"barrelhead.example/services/kit/pg"
)

// cursor is a row of feed_cursor.
type cursor struct {
	logID          string
	sequence       int64
	haltedSequence *int64
	haltedReason   *string
}

const (
	insertCursor = `INSERT INTO feed_cursor (consumer, source) VALUES ($1, $2) ON CONFLICT DO NOTHING`
	selectCursor = `SELECT log_id, sequence, halted_sequence, halted_reason FROM feed_cursor WHERE consumer = $1`
	lockCursor   = selectCursor + ` FOR UPDATE`
	moveCursor   = `UPDATE feed_cursor SET log_id = $2, sequence = $3::bigint, head_sequence = greatest($4::bigint, $3::bigint), update_time = $5 WHERE consumer = $1`
	haltCursor   = `UPDATE feed_cursor SET halted_sequence = $2::bigint, halted_reason = $3, halt_time = $4 WHERE consumer = $1 AND sequence = $2::bigint - 1`
	resumeCursor = `UPDATE feed_cursor SET halted_sequence = NULL, halted_reason = NULL, halt_time = NULL WHERE consumer = $1`
)

func scanCursor(row pgx.Row) (cursor, error) {
	var c cursor
	err := row.Scan(&c.logID, &c.sequence, &c.haltedSequence, &c.haltedReason)
	return c, err
}

// load makes the row at the first start.
func (c *Consumer) load(ctx context.Context, db pg.Querier) (cursor, error) {
	cur, err := scanCursor(db.QueryRow(ctx, selectCursor, c.Name))
	if errors.Is(err, pgx.ErrNoRows) {
		if _, err = db.Exec(ctx, insertCursor, c.Name, c.Source); err == nil {
			cur, err = scanCursor(db.QueryRow(ctx, selectCursor, c.Name))
		}
	}
	if err != nil {
		return cursor{}, fmt.Errorf("load the cursor of %s: %w", c.Name, err)
	}
	return cur, nil
}

func (c *Consumer) controlChannel() string { return "feed_control_" + c.DB.Schema() + "_" + c.Name }

// awaitUnhalted returns the cursor once no halt is set on it.
func (c *Consumer) awaitUnhalted(ctx context.Context) (cursor, error) {
	for {
		bell := c.DB.Bell(c.controlChannel())
		cur, err := c.load(ctx, c.DB.Pool())
		if err != nil || cur.haltedSequence == nil {
			return cur, err
		}
		poll := time.NewTimer(haltPoll)
		select {
		case <-bell:
		case <-poll.C:
		case <-ctx.Done():
		}
		poll.Stop()
		if ctx.Err() != nil {
			return cursor{}, ctx.Err()
		}
	}
}

// halt stops the source at the event after the cursor, for everybody to see. If the cursor has moved meanwhile, another
// replica managed what we could not, and nothing is halted.
func (c *Consumer) halt(ctx context.Context, sequence int64, cause error) error {
	_, err := c.DB.Pool().Exec(ctx, haltCursor, c.Name, sequence, cause.Error(), c.Clock.Now())
	if err != nil {
		return fmt.Errorf("halt %s: %w", c.Name, err)
	}
	c.Log.Error("feed halted, an operator must retry, skip or rebuild", zap.String("consumer", c.Name),
		zap.String("source", c.Source), zap.Int64("sequence", sequence), zap.Error(cause))
	return nil
}
