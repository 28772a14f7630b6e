package feed

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"go.uber.org/zap"
)

var (
	errHaltedElsewhere = errors.New("halted meanwhile")
	errMoved           = errors.New("the cursor was moved meanwhile")
)

// overtaken reports that the failure is not the event's: someone else moved or halted the cursor.
func overtaken(err error) bool {
	return errors.Is(err, errHaltedElsewhere) || errors.Is(err, errMoved)
}

// NotHaltedError means that the source is not halted where the operator believes.
type NotHaltedError struct {
	Consumer string
	// Sequence is where the source is halted, 0 if it is not.
	Sequence int64
}

func (e *NotHaltedError) Error() string {
	if e.Sequence == 0 {
		return fmt.Sprintf("%s is not halted: there is nothing to skip", e.Consumer)
	}
	return fmt.Sprintf("%s is halted at event %d: only that one can be skipped", e.Consumer, e.Sequence)
}

// Reason is the wire reason.
func (*NotHaltedError) Reason() string { return "STATE_FORBIDS" }

// Metadata repeats the variable parts.
func (e *NotHaltedError) Metadata() map[string]string {
	return map[string]string{"resource": e.Consumer, "state": fmt.Sprintf("halted at %d", e.Sequence)}
}

// Retry clears a halt; the running consumers go on with the event that failed. Without a halt nothing changes.
func (c *Consumer) Retry(ctx context.Context) error {
	if err := c.DB.InTx(ctx, c.RetryIn); err != nil {
		return fmt.Errorf("retry %s: %w", c.Name, err)
	}
	c.Wake()
	return nil
}

// RetryIn is Retry as part of a transaction; call Wake after its commit.
func (c *Consumer) RetryIn(ctx context.Context, tx pgx.Tx) error {
	_, err := tx.Exec(ctx, resumeCursor, c.Name)
	return err
}

// Skip passes over the one event the source is halted at, and records who decided so and why.
// Errors: *NotHaltedError when the source is not halted at sequence.
func (c *Consumer) Skip(ctx context.Context, sequence int64, reason, actor string) error {
	err := c.DB.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error { return c.SkipIn(ctx, tx, sequence, reason, actor) })
	if err != nil {
		return fmt.Errorf("skip event %d of %s: %w", sequence, c.Name, err)
	}
	c.Wake()
	return nil
}

// SkipIn is Skip as part of a transaction; call Wake after its commit.
func (c *Consumer) SkipIn(ctx context.Context, tx pgx.Tx, sequence int64, reason, actor string) error {
	if err := c.fill(); err != nil {
		return err
	}
	cur, err := scanCursor(tx.QueryRow(ctx, lockCursor, c.Name))
	if errors.Is(err, pgx.ErrNoRows) || (err == nil && cur.haltedSequence == nil) {
		return &NotHaltedError{c.Name, 0}
	}
	if err != nil {
		return err
	}
	if *cur.haltedSequence != sequence {
		return &NotHaltedError{c.Name, *cur.haltedSequence}
	}
	b := &pgx.Batch{}
	b.Queue(`INSERT INTO feed_skipped (consumer, log_id, sequence, reason, actor, skip_time) VALUES ($1, $2, $3, $4, $5, $6)`,
		c.Name, cur.logID, sequence, reason, actor, c.Clock.Now())
	b.Queue(`UPDATE feed_cursor SET sequence = $2, update_time = $3 WHERE consumer = $1`, c.Name, sequence, c.Clock.Now())
	b.Queue(resumeCursor, c.Name)
	if err := tx.SendBatch(ctx, b).Close(); err != nil {
		return err
	}
	c.Log.Warn("event skipped by an operator", zap.String("consumer", c.Name), zap.Int64("sequence", sequence),
		zap.String("actor", actor), zap.String("reason", reason))
	return nil
}

// Wake tells the running consumers, here and in other replicas, to look at their cursor now instead of at their next poll.
func (c *Consumer) Wake() { c.DB.Announce(c.controlChannel()) }
