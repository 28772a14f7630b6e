package pgtest

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
)

// perTest remembers the newest database of each test and schema, for URL.
var perTest sync.Map // testKey → database

type testKey struct {
	t      testing.TB
	schema string
}

func latest(t testing.TB, schema string) database {
	t.Helper()
	if d, ok := perTest.Load(testKey{t, schema}); ok {
		return d.(database)
	}
	return clone(t, schema)
}

func clone(t testing.TB, schema string) database {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), setupTimeout)
	defer cancel()
	server, err := serverURL(ctx)
	require.NoError(t, err, "the tests need PostgreSQL")
	template, err := ensureTemplate(ctx, server, schema)
	require.NoError(t, err, "migrate the template of schema %s", schema)
	d := database{admin: create(t, schema, template), schema: schema}
	key := testKey{t, schema}
	perTest.Store(key, d)
	t.Cleanup(func() { perTest.CompareAndDelete(key, d) })
	return d
}

// create makes a database from a template and drops it after the test. The name tells which schema left it behind.
func create(t testing.TB, label, template string) string {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), setupTimeout)
	defer cancel()
	server, err := serverURL(ctx)
	require.NoError(t, err, "the tests need PostgreSQL")
	name := fmt.Sprintf("t_%s_%s", label, strings.ToLower(rand.Text()[:16]))
	require.NoError(t, onServer(ctx, server, fmt.Sprintf("CREATE DATABASE %s TEMPLATE %s", name, template)), "clone the template")
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), setupTimeout)
		defer cancel()
		require.NoError(t, onServer(ctx, server, fmt.Sprintf("DROP DATABASE %s WITH (FORCE)", name)), "drop the test database")
	})
	return withDatabase(server, name)
}

// administrator is one connection per process for CREATE and DROP DATABASE: a new one for each would cost more than
// the statement.
var administrator struct {
	sync.Mutex
	url  string
	conn *pgx.Conn
}

func onServer(ctx context.Context, server, sql string) error {
	a := &administrator
	a.Lock()
	defer a.Unlock()
	if a.conn == nil || a.conn.IsClosed() || a.url != server {
		conn, err := pgx.Connect(ctx, server)
		if err != nil {
			return fmt.Errorf("connect to the test server: %w", err)
		}
		a.conn, a.url = conn, server
	}
	if _, err := a.conn.Exec(ctx, sql, pgx.QueryExecModeSimpleProtocol); err != nil {
		return fmt.Errorf("%s: %w", sql, err)
	}
	return nil
}
