// Package store keeps schedules, payouts and the read tables of settlement in PostgreSQL.
package store

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/services/kit/pg"
)

// Store has no state: every method is told which connection or transaction to use.
type Store struct{}

// LockGate waits for the turn to decide about payouts; it is given back with the transaction.
func (Store) LockGate(ctx context.Context, tx pgx.Tx) error {
	var single bool
	if err := tx.QueryRow(ctx, `SELECT single FROM pricing_gate FOR UPDATE`).Scan(&single); err != nil {
		return fmt.Errorf("wait for the turn to price: %w", err)
	}
	return nil
}

// Patient raises the time limits of a transaction that has a season to work through. They are set so that a stuck
// transaction does not hold up the dock; a run of a million barrels is not stuck. Sorting so many in memory is what the
// memory is for; it is taken as needed. Compiling the few statements would take longer than it saves.
func (Store) Patient(ctx context.Context, tx pgx.Tx) error {
	return exec(ctx, tx, "raise the time limits", `SELECT set_config('statement_timeout', '15min', true),
		set_config('idle_in_transaction_session_timeout', '15min', true), set_config('work_mem', '256MB', true), set_config('jit', 'off', true)`)
}

// ExportSnapshot names what a transaction sees, so that another connection can see the same.
func (Store) ExportSnapshot(ctx context.Context, tx pgx.Tx) (id string, err error) {
	err = tx.QueryRow(ctx, `SELECT pg_export_snapshot()`).Scan(&id)
	return id, wrap("name the snapshot", err)
}

// ImportSnapshot makes a transaction that has not read anything yet see what another does.
func (Store) ImportSnapshot(ctx context.Context, tx pgx.Tx, id string) error {
	// The statement takes no parameters; the name is the server's own.
	return exec(ctx, tx, "share the snapshot", `SET TRANSACTION SNAPSHOT `+quoted(id))
}

func quoted(text string) string { return "'" + strings.ReplaceAll(text, "'", "''") + "'" }

// date reads a date column; PostgreSQL writes it as the domain does.
func date(column string) string { return "to_char(" + column + ", 'YYYY-MM-DD')" }

// collect gathers the rows of a query, and names it in an error.
func collect[T any](ctx context.Context, q pg.Querier, what, sql string, scan pgx.RowToFunc[T], args ...any) ([]T, error) {
	rows, err := q.Query(ctx, sql, args...)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	out, err := pgx.CollectRows(rows, scan)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return out, nil
}

func exec(ctx context.Context, q pg.Querier, what, sql string, args ...any) error {
	if _, err := q.Exec(ctx, sql, args...); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}

func wrap(what string, err error) error {
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return nil
}
