package pg

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"go.uber.org/zap"
)

const (
	mostAttempts    = 5
	firstRetryPause = 5 * time.Millisecond
	rollbackTimeout = 5 * time.Second
)

// ErrConflict means that the database kept refusing the transaction because of concurrent changes.
var ErrConflict = errors.New("concurrent changes kept this from being saved")

// InTx runs fn in one READ COMMITTED transaction. fn runs again, up to five times in all, when the database refuses
// because of concurrent changes, so it must not change anything but the transaction. An error of fn rolls back and is
// returned as it is. Errors: ErrConflict when the attempts are used up.
func (db *DB) InTx(ctx context.Context, fn func(ctx context.Context, tx pgx.Tx) error) error {
	return db.InSteps(ctx, Steps{Do: func(ctx context.Context, tx pgx.Tx, _ *pgx.Batch) error { return fn(ctx, tx) }})
}

// Steps is a transaction that saves round trips: what Open queues travels with BEGIN, and what Do queues into its batch
// travels with COMMIT.
type Steps struct {
	// Open queues the first statements; nil for none. Its results are read before Do runs.
	Open func(b *pgx.Batch)
	// Do works in the transaction and may queue closing statements; an error of one of them, or of its callback, rolls
	// back. A callback costs the round trip that closing statements otherwise save.
	Do func(ctx context.Context, tx pgx.Tx, closing *pgx.Batch) error
}

// InSteps is InTx for hot paths.
func (db *DB) InSteps(ctx context.Context, s Steps) error {
	pause := firstRetryPause
	for attempt := 1; ; attempt++ {
		err := db.once(ctx, s)
		if !IsConflict(err) {
			return err
		}
		if attempt == mostAttempts {
			return fmt.Errorf("%w (%d attempts): %w", ErrConflict, attempt, err)
		}
		db.log.Debug("transaction refused, trying again", zap.Int("attempt", attempt), zap.Error(err))
		if !sleep(ctx, pause) {
			return fmt.Errorf("%w: %w", ctx.Err(), err)
		}
		pause *= 2
	}
}

// InSnapshot runs fn in one read-only REPEATABLE READ transaction: all its queries see the same moment. It suits reports
// and checks; changing anything is an error.
func (db *DB) InSnapshot(ctx context.Context, fn func(ctx context.Context, tx pgx.Tx) error) error {
	conn, err := db.pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("borrow a database connection: %w", err)
	}
	defer conn.Release()
	defer rollback(ctx, conn)
	tx, err := conn.BeginTx(ctx, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly})
	if err != nil {
		return fmt.Errorf("open a snapshot: %w", err)
	}
	return fn(ctx, tx)
}

func (db *DB) once(ctx context.Context, s Steps) error {
	conn, err := db.pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("borrow a database connection: %w", err)
	}
	defer conn.Release()
	// A panic of the caller's function must not return the connection with its transaction open.
	defer rollback(ctx, conn)
	opening := &pgx.Batch{}
	opening.BeginTx(pgx.TxOptions{})
	if s.Open != nil {
		s.Open(opening)
	}
	results := conn.SendBatch(ctx, opening)
	if err := results.Close(); err != nil {
		return fmt.Errorf("open the transaction: %w", err)
	}
	closing := &pgx.Batch{}
	if err := s.Do(ctx, results.Tx(), closing); err != nil {
		return err
	}
	return commit(ctx, conn, closing)
}

// commit sends the closing statements and COMMIT together: after a failed statement the server skips the COMMIT. Where a
// callback may still object to a result, COMMIT waits for it, since what is sent cannot be taken back.
func commit(ctx context.Context, conn *pgxpool.Conn, closing *pgx.Batch) error {
	if hasCallback(closing) {
		if err := conn.SendBatch(ctx, closing).Close(); err != nil {
			return fmt.Errorf("commit: %w", err)
		}
		closing = &pgx.Batch{}
	}
	var outcome string
	closing.Queue("commit").Exec(func(tag pgconn.CommandTag) error {
		outcome = tag.String()
		return nil
	})
	if err := conn.SendBatch(ctx, closing).Close(); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	if outcome != "COMMIT" {
		// COMMIT of a transaction in which a statement had failed unnoticed is answered ROLLBACK, without an error.
		return fmt.Errorf("commit: %w", pgx.ErrTxCommitRollback)
	}
	return nil
}

func hasCallback(b *pgx.Batch) bool {
	return slices.ContainsFunc(b.QueuedQueries, func(query *pgx.QueuedQuery) bool { return query.Fn != nil })
}

// rollback ends a transaction still open, also when ctx has ended, so that the connection can be used again.
func rollback(ctx context.Context, conn *pgxpool.Conn) {
	if conn.Conn().IsClosed() || conn.Conn().PgConn().TxStatus() == 'I' {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackTimeout)
	defer cancel()
	if _, err := conn.Exec(ctx, "rollback"); err != nil {
		// Release destroys a connection that is still in a transaction.
		return
	}
}
