package suite

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// duplicateDatabase is PostgreSQL's SQLSTATE for a database that exists.
const duplicateDatabase = "42P04"

func createDatabase(ctx context.Context, adminURL string) (err error) {
	conn, err := pgx.Connect(ctx, adminURL)
	if err != nil {
		return fmt.Errorf("connect to PostgreSQL: %w", err)
	}
	defer func() { err = errors.Join(err, conn.Close(ctx)) }()
	_, err = conn.Exec(ctx, "CREATE DATABASE "+pgx.Identifier{database}.Sanitize())
	if refused, ok := errors.AsType[*pgconn.PgError](err); ok && refused.Code == duplicateDatabase {
		return nil
	}
	return err
}
