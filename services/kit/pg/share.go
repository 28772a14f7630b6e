package pg

import (
	"context"
	"errors"
	"fmt"
	"sort"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"go.uber.org/zap"
)

const (
	// sharers is how many transactions of several callers run at a time: while one waits for the disk the others fill. With
	// two, few callers wait for each other's commits; with eight, many callers' transactions stay small (both measured).
	sharers = 4
	// mostShared callers in one transaction, so that nobody waits for a very long one.
	mostShared   = 64
	shareTimeout = 10 * time.Second
)

// ErrStale is for the callback of a guarding statement that found the aggregate changed since it was read.
var ErrStale = errors.New("changed since it was read")

// sharing collects what callers want committed.
type sharing struct {
	mu      sync.Mutex
	queue   []*share
	running int
}

// share is one caller's statements. fill may be called several times, each time for a new batch.
type share struct {
	key  string
	fill func(b *pgx.Batch)
	done chan error
}

// Share commits the statements queued by fill, together with those of other callers that come at the same time: what is
// queued while a commit waits for the disk goes out with the next one. With one caller it is an ordinary transaction.
//
// Statements get their guards in the callbacks of their results: a callback's error, like a failed statement, concerns
// its caller only. The transaction is then rolled back and each caller's statements run again in a transaction of their
// own. fill must touch no rows but those under key, on which callers of one transaction are sorted, so that two
// transactions cannot wait for each other; append-only inserts are free. It must not change anything else, since it may
// run again, and callbacks must not rely on a commit.
//
// Nobody is answered before the commit that holds his statements. When ctx ends first, the outcome is unknown.
func (db *DB) Share(ctx context.Context, key string, fill func(b *pgx.Batch)) error {
	w := &share{key: key, fill: fill, done: make(chan error, 1)}
	db.shared.mu.Lock()
	db.shared.queue = append(db.shared.queue, w)
	if db.shared.running < sharers {
		db.shared.running++
		go db.share() //nolint:gosec // one transaction serves many callers, so no caller's context may end it
	}
	db.shared.mu.Unlock()
	select {
	case err := <-w.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// share runs until nothing is queued.
func (db *DB) share() {
	for {
		works := db.shared.take()
		if len(works) == 0 {
			return
		}
		ctx, cancel := context.WithTimeout(context.Background(), shareTimeout)
		db.settle(ctx, works)
		cancel()
	}
}

// take also signs the runner off when nothing is left, under the same lock under which Share would start another.
func (s *sharing) take() []*share {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := min(len(s.queue), mostShared)
	works := append([]*share(nil), s.queue[:n]...)
	s.queue = append(s.queue[:0], s.queue[n:]...)
	if n == 0 {
		s.running--
	}
	sort.SliceStable(works, func(i, j int) bool { return works[i].key < works[j].key })
	return works
}

func (db *DB) settle(ctx context.Context, works []*share) {
	err := db.together(ctx, works)
	var lost *unknownOutcomeError
	if err == nil || errors.As(err, &lost) || len(works) == 1 && !IsConflict(err) {
		for _, w := range works {
			w.done <- err
		}
		return
	}
	db.log.Debug("shared transaction failed, each by itself", zap.Int("callers", len(works)), zap.Error(err))
	for _, w := range works {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), shareTimeout)
		w.done <- db.alone(ctx, w)
		cancel()
	}
}

// unknownOutcomeError keeps statements from running twice: the connection was lost during COMMIT, so they may be in.
type unknownOutcomeError struct{ cause error }

func (e *unknownOutcomeError) Error() string { return "the outcome is unknown: " + e.cause.Error() }
func (e *unknownOutcomeError) Unwrap() error { return e.cause }

// together sends everything at once, COMMIT included. Only where a callback may object to a result does COMMIT wait for
// it, since what is sent cannot be taken back.
func (db *DB) together(ctx context.Context, works []*share) error {
	conn, err := db.pool.Acquire(ctx)
	if err != nil {
		return fmt.Errorf("borrow a database connection: %w", err)
	}
	defer conn.Release()
	defer rollback(ctx, conn)
	b := &pgx.Batch{}
	b.Queue("begin")
	for _, w := range works {
		if err := w.queue(b); err != nil {
			return err
		}
	}
	if hasCallback(b) {
		if err := conn.SendBatch(ctx, b).Close(); err != nil {
			return err
		}
		b = &pgx.Batch{}
	}
	if err := commit(ctx, conn, b); err != nil {
		if conn.Conn().IsClosed() {
			return &unknownOutcomeError{err}
		}
		return err
	}
	return nil
}

func (db *DB) alone(ctx context.Context, w *share) error {
	return db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		b := &pgx.Batch{}
		if err := w.queue(b); err != nil || b.Len() == 0 {
			return err
		}
		return tx.SendBatch(ctx, b).Close()
	})
}

// queue keeps a panic of one caller's function from the others and from the process.
func (w *share) queue(b *pgx.Batch) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("panic while queueing statements: %v", r)
		}
	}()
	w.fill(b)
	return nil
}
