// Package pg is the one way this suite talks to PostgreSQL: a pool bound to one schema, a transaction helper that
// retries what may be retried, and the translation of constraint names into the caller's own errors.
//
// SQLSTATE codes are known here and nowhere else.
package pg

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"go.uber.org/zap"

	"barrelhead.example/services/kit/clock"
)

// Querier is what a query needs; pool, connection and transaction all have it.
type Querier interface {
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults
}

// Config names a database and the schema of the service in it.
type Config struct {
	// URL of the service role, e.g. "postgres://intake_app@/barrelhead?host=/run/postgresql".
	URL string
	// Schema is the only entry of the search path.
	Schema string
	// MaxConns bounds the pool; 0 means 16.
	MaxConns int32
	// StartTimeout bounds the wait for a database that is still starting; 0 means 30 s.
	StartTimeout time.Duration
}

// DB is the pool of one service.
type DB struct {
	pool    *pgxpool.Pool
	schema  string
	log     *zap.Logger
	clock   clock.Clock
	notices *notices
	shared  sharing
}

// Open connects, waiting for a database that is still starting up to the configured time.
func Open(ctx context.Context, c Config, log *zap.Logger) (*DB, error) {
	config, err := poolConfig(c)
	if err != nil {
		return nil, err
	}
	// The pool outlives ctx, which bounds only the wait for its first connection.
	pool, err := pgxpool.NewWithConfig(context.WithoutCancel(ctx), config)
	if err != nil {
		return nil, fmt.Errorf("make the pool of schema %s: %w", c.Schema, err)
	}
	if err := awaitDatabase(ctx, pool, c.StartTimeout, log); err != nil {
		pool.Close()
		return nil, err
	}
	return &DB{pool: pool, schema: c.Schema, log: log, clock: clock.System, notices: newNotices()}, nil
}

func awaitDatabase(ctx context.Context, pool *pgxpool.Pool, most time.Duration, log *zap.Logger) error {
	if most == 0 {
		most = 30 * time.Second
	}
	ctx, cancel := context.WithTimeout(ctx, most)
	defer cancel()
	var last error
	for pause := 50 * time.Millisecond; ; pause = min(2*pause, 2*time.Second) {
		err := pool.Ping(ctx)
		switch {
		case err == nil:
			return nil
		case isRefusal(err):
			return fmt.Errorf("connect to the database: %w", err)
		case last == nil || IsUnavailable(err):
			// The end of our own patience says less than what the database said before.
			last = err
		}
		log.Info("waiting for the database", zap.Error(err))
		if !sleep(ctx, pause) {
			return fmt.Errorf("the database did not answer within %s: %w", most, last)
		}
	}
}

// sleep reports false when ctx ended first. The pause is jittered by half.
func sleep(ctx context.Context, pause time.Duration) bool {
	timer := time.NewTimer(pause/2 + rand.N(pause/2+1)) //nolint:gosec // jitter needs no secrecy
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}

// Pool gives reads that need no transaction the pool itself. A transaction goes through InTx, which retries and always
// ends it.
func (db *DB) Pool() *pgxpool.Pool { return db.pool }

// Schema is the schema this DB works in.
func (db *DB) Schema() string { return db.schema }

// Log is the logger given to Open.
func (db *DB) Log() *zap.Logger { return db.log }

// Close waits for borrowed connections to come back, then closes all.
func (db *DB) Close() { db.pool.Close() }
