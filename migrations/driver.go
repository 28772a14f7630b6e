package migrations

import (
	"context"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"

	"github.com/jackc/pgx/v5"
)

// The migration tool wants a database/sql handle. This is the little of a driver it uses, over the driver the rest of
// the suite uses, whose own database/sql adapter brings a second connection pool along.

type connector struct{ config *pgx.ConnConfig }

func (c connector) Connect(ctx context.Context) (driver.Conn, error) {
	conn, err := pgx.ConnectConfig(ctx, c.config)
	if err != nil {
		return nil, err
	}
	return &sqlConn{conn}, nil
}

func (c connector) Driver() driver.Driver { return c }

// Open belongs to driver.Driver, for handles made from a name; sql.OpenDB never calls it.
func (connector) Open(string) (driver.Conn, error) {
	return nil, errors.New("migrations: connections are made from a configuration, not from a name")
}

type sqlConn struct{ conn *pgx.Conn }

func (c *sqlConn) Close() error { return c.conn.Close(context.Background()) }

// Prepare is not used: every statement goes through ExecContext or QueryContext.
func (*sqlConn) Prepare(string) (driver.Stmt, error) {
	return nil, errors.New("migrations: prepared statements are not supported")
}

func (c *sqlConn) Begin() (driver.Tx, error) {
	return c.BeginTx(context.Background(), driver.TxOptions{})
}

func (c *sqlConn) BeginTx(ctx context.Context, o driver.TxOptions) (driver.Tx, error) {
	if o.ReadOnly || o.Isolation != 0 {
		return nil, errors.New("migrations: only plain transactions are supported")
	}
	tx, err := c.conn.Begin(ctx)
	if err != nil {
		return nil, err
	}
	return sqlTx{tx}, nil
}

func (c *sqlConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	if len(args) == 0 {
		// The simple protocol takes what a migration file may hold: several statements, and DDL that cannot be prepared.
		_, err := c.conn.PgConn().Exec(ctx, query).ReadAll()
		return driver.ResultNoRows, err
	}
	tag, err := c.conn.Exec(ctx, query, values(args)...)
	return driver.RowsAffected(tag.RowsAffected()), err
}

func (c *sqlConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	rows, err := c.conn.Query(ctx, query, values(args)...)
	if err != nil {
		return nil, err
	}
	return &sqlRows{rows}, nil
}

func values(args []driver.NamedValue) []any {
	out := make([]any, len(args))
	for i, arg := range args {
		out[i] = arg.Value
	}
	return out
}

type sqlTx struct{ tx pgx.Tx }

func (t sqlTx) Commit() error   { return t.tx.Commit(context.Background()) }
func (t sqlTx) Rollback() error { return t.tx.Rollback(context.Background()) }

type sqlRows struct{ rows pgx.Rows }

func (r *sqlRows) Columns() []string {
	names := make([]string, 0, len(r.rows.FieldDescriptions()))
	for _, f := range r.rows.FieldDescriptions() {
		names = append(names, f.Name)
	}
	return names
}

func (r *sqlRows) Close() error {
	r.rows.Close()
	return r.rows.Err()
}

func (r *sqlRows) Next(dest []driver.Value) error {
	if !r.rows.Next() {
		if err := r.rows.Err(); err != nil {
			return err
		}
		return io.EOF
	}
	row, err := r.rows.Values()
	if err != nil {
		return fmt.Errorf("read a row: %w", err)
	}
	for i, v := range row {
		if dest[i], err = driver.DefaultParameterConverter.ConvertValue(v); err != nil {
			return fmt.Errorf("read column %d: %w", i, err)
		}
	}
	return nil
}
