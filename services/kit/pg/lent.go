package pg

import (
	"context"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgtype"

	"barrelhead.example/services/kit/clock"
)

// Conn is a borrowed connection.
type Conn struct {
	*pgx.Conn
	pool      *Pool
	retire    time.Time
	idleSince time.Time
}

// Release gives the connection back. It must not be used afterwards.
func (c *Conn) Release() { c.pool.putBack(c) }

// alive asks only a connection that lay idle long enough to have died silently: a round trip at each loan would cost
// more than the rare failure it prevents.
func (c *Conn) alive(ctx context.Context) bool {
	if c.IsClosed() || clock.System.Now().After(c.retire) {
		return false
	}
	return clock.System.Now().Sub(c.idleSince) < idleBeforeCheck || c.Ping(ctx) == nil
}

// lentRows gives its connection back when the rows end.
type lentRows struct {
	pgx.Rows
	conn *Conn
	once sync.Once
}

func (r *lentRows) Close() {
	r.Rows.Close()
	r.once.Do(r.conn.Release)
}

func (r *lentRows) Next() bool {
	if r.Rows.Next() {
		return true
	}
	r.Close()
	return false
}

func (r *lentRows) Scan(dest ...any) error {
	err := r.Rows.Scan(dest...)
	if err != nil {
		r.Close()
	}
	return err
}

func (r *lentRows) Values() ([]any, error) {
	values, err := r.Rows.Values()
	if err != nil {
		r.Close()
	}
	return values, err
}

type lentRow struct {
	pgx.Row
	conn *Conn
}

func (r *lentRow) Scan(dest ...any) error {
	defer r.conn.Release()
	return r.Row.Scan(dest...)
}

type lentBatch struct {
	pgx.BatchResults
	conn *Conn
	once sync.Once
}

func (b *lentBatch) Close() error {
	err := b.BatchResults.Close()
	b.once.Do(b.conn.Release)
	return err
}

// errRows answers for a query whose connection could not be borrowed.
type errRows struct{ err error }

func (errRows) Close()                                       {}
func (r errRows) Err() error                                 { return r.err }
func (errRows) CommandTag() pgconn.CommandTag                { return pgconn.CommandTag{} }
func (errRows) FieldDescriptions() []pgconn.FieldDescription { return nil }
func (errRows) Next() bool                                   { return false }
func (r errRows) Scan(...any) error                          { return r.err }
func (r errRows) Values() ([]any, error)                     { return nil, r.err }
func (errRows) RawValues() [][]byte                          { return nil }
func (errRows) Conn() *pgx.Conn                              { return nil }
func (errRows) TypeMap() *pgtype.Map                         { return nil }

type errBatch struct{ err error }

func (b errBatch) Exec() (pgconn.CommandTag, error) { return pgconn.CommandTag{}, b.err }
func (b errBatch) Query() (pgx.Rows, error)         { return errRows(b), b.err }
func (b errBatch) QueryRow() pgx.Row                { return errRows(b) }
func (b errBatch) Close() error                     { return b.err }
func (errBatch) Tx() pgx.Tx                         { return nil }

var _ Querier = (*Pool)(nil)
