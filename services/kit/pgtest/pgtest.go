// Package pgtest gives every test its own migrated PostgreSQL database.
//
// All test processes of one user share one private scratch cluster, started by the first that needs it and stopped when
// none has needed it for a minute (see keeper.go). BARRELHEAD_TEST_PG may name a running server instead, by the URL of a
// superuser. Each schema is migrated once into a template named after the content of its migrations; a test gets a
// clone. Without PostgreSQL the test fails: it never skips.
package pgtest

import (
	"context"
	"net/url"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"

	"barrelhead.example/services/kit/pg"
)

const setupTimeout = 2 * time.Minute

// New opens a fresh database migrated for schema, as the service role intake_app, grading_app, …. The database is
// dropped when the test ends.
func New(t testing.TB, schema string) *pg.DB {
	t.Helper()
	return Open(t, clone(t, schema).app(), schema)
}

// Open opens one more pool on a database of this test, e.g. for a second replica.
func Open(t testing.TB, appURL, schema string) *pg.DB {
	t.Helper()
	db, err := pg.Open(t.Context(), pg.Config{URL: appURL, Schema: schema, MaxConns: 10}, zap.NewNop())
	require.NoError(t, err, "open the test database")
	t.Cleanup(db.Close)
	return db
}

// URL is the service role's URL of the test's newest database for schema; where there is none yet, one is made.
func URL(t testing.TB, schema string) string {
	t.Helper()
	return latest(t, schema).app()
}

// AdminURL is URL for the superuser, e.g. to end sessions of a service.
func AdminURL(t testing.TB, schema string) string {
	t.Helper()
	return latest(t, schema).admin
}

// Empty gives the superuser's URL of a fresh database nothing has been migrated into.
func Empty(t testing.TB) string {
	t.Helper()
	return create(t, "empty", "template0")
}

// Exec runs statements as the superuser in the test's newest database for schema, with the schema as search path: for
// what no service may do, such as tampering with the log.
func Exec(t testing.TB, schema, sql string, args ...any) {
	t.Helper()
	config, err := pgx.ParseConfig(AdminURL(t, schema))
	require.NoError(t, err)
	config.RuntimeParams["search_path"] = schema
	ctx, cancel := context.WithTimeout(context.Background(), setupTimeout)
	defer cancel()
	conn, err := pgx.ConnectConfig(ctx, config)
	require.NoError(t, err)
	_, err = conn.Exec(ctx, sql, args...)
	require.NoError(t, err, sql)
	require.NoError(t, conn.Close(ctx))
}

// database is one test database, known by its superuser's URL.
type database struct{ admin, schema string }

func (d database) app() string { return as(d.admin, d.schema+"_app") }

// as swaps the role; the roles were given the superuser's password, so tests also work on a server that asks for one.
func as(admin, role string) string {
	u, err := url.Parse(admin)
	if err != nil {
		panic("pgtest made a URL it cannot read: " + err.Error())
	}
	u.User = url.User(role)
	if password := passwordOf(admin); password != "" {
		u.User = url.UserPassword(role, password)
	}
	return u.String()
}

func passwordOf(rawURL string) string {
	u, err := url.Parse(rawURL)
	if err != nil || u.User == nil {
		return ""
	}
	password, _ := u.User.Password()
	return password
}

func withDatabase(rawURL, name string) string {
	u, err := url.Parse(rawURL)
	if err != nil {
		panic("pgtest was given a URL it cannot read: " + err.Error())
	}
	u.Path = "/" + name
	return u.String()
}
