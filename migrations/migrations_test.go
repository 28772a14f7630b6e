package migrations_test

import (
	"context"
	"io/fs"
	"net/url"
	"regexp"
	"strconv"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/pgtest"
)

func connect(t *testing.T, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close(context.WithoutCancel(t.Context()))) })
	return conn
}

func TestUp_IsRepeatableAndSafeTogether(t *testing.T) {
	t.Parallel()
	admin := pgtest.Empty(t)
	var group errgroup.Group
	for range 3 {
		for _, schema := range migrations.Schemas() {
			group.Go(func() error { return migrations.Up(t.Context(), schema, admin) })
		}
	}
	require.NoError(t, group.Wait())
	conn := connect(t, admin)
	for _, schema := range migrations.Schemas() {
		require.NoError(t, migrations.Up(t.Context(), schema, admin))
		var owner string
		var applied, distinct int
		require.NoError(t, conn.QueryRow(t.Context(), "SELECT tableowner FROM pg_tables WHERE schemaname = $1 AND tablename = 'event'", schema).Scan(&owner))
		require.Equal(t, schema+"_owner", owner, "whoever ran the migrations")
		table := pgx.Identifier{schema, "migration"}.Sanitize()
		require.NoError(t, conn.QueryRow(t.Context(), "SELECT count(*), count(DISTINCT version_id) FROM "+table).Scan(&applied, &distinct))
		require.Equal(t, distinct, applied, "every file ran once")
	}
}

func TestProvision_ThenTheOwnerNeedsNoOtherRights(t *testing.T) {
	t.Parallel()
	admin := pgtest.Empty(t)
	for range 2 {
		require.NoError(t, migrations.Provision(t.Context(), admin, "intake", migrations.Passwords{}))
	}
	u, err := url.Parse(admin)
	require.NoError(t, err)
	u.User = url.User("intake_owner")
	require.NoError(t, migrations.Up(t.Context(), "intake", u.String()))
	var super, create bool
	require.NoError(t, connect(t, u.String()).QueryRow(t.Context(),
		"SELECT rolsuper, rolcreaterole FROM pg_roles WHERE rolname = current_user").Scan(&super, &create))
	require.False(t, super || create)
}

func TestUp_RefusesWhatItCannotDo(t *testing.T) {
	t.Parallel()
	require.ErrorContains(t, migrations.Up(t.Context(), "orchard", pgtest.Empty(t)), "orchard")
	err := migrations.Up(t.Context(), "intake", "postgres://u:secret@/%zz")
	require.Error(t, err)
	require.NotContains(t, err.Error(), "secret")
	require.Zero(t, migrations.Latest("orchard"))
}

// TestFiles_AreNumberedWithoutGaps keeps the sum of the last numbers a version.
func TestFiles_AreNumberedWithoutGaps(t *testing.T) {
	t.Parallel()
	name := regexp.MustCompile(`^(\d{5})_[a-z0-9_]+\.sql$`)
	for _, folder := range append(migrations.Schemas(), "kit") {
		entries, err := fs.ReadDir(migrations.Files(), folder)
		require.NoError(t, err)
		for i, entry := range entries {
			parts := name.FindStringSubmatch(entry.Name())
			require.NotNil(t, parts, "%s/%s", folder, entry.Name())
			number, err := strconv.Atoi(parts[1])
			require.NoError(t, err)
			require.Equal(t, i+1, number, "%s/%s", folder, entry.Name())
		}
	}
}

// appendOnly is what no service may ever change, in every schema.
var appendOnly = []string{"event", "event_pending", "request_ledger", "feed_skipped", "feed_head"}

func TestGrants_AppendOnlyTablesStaySo(t *testing.T) {
	t.Parallel()
	for _, schema := range migrations.Schemas() {
		t.Run(schema, func(t *testing.T) {
			t.Parallel()
			conn := connect(t, pgtest.AdminURL(t, schema))
			for _, table := range appendOnly {
				for _, right := range []string{"UPDATE", "DELETE", "TRUNCATE"} {
					var has bool
					name := pgx.Identifier{schema, table}.Sanitize()
					require.NoError(t, conn.QueryRow(t.Context(), "SELECT has_table_privilege($1, $2, $3)", schema+"_app", name, right).Scan(&has))
					require.False(t, has, "%s on %s", right, name)
				}
			}
			var create bool
			require.NoError(t, conn.QueryRow(t.Context(), "SELECT has_schema_privilege($1, $2, 'CREATE')", schema+"_app", schema).Scan(&create))
			require.False(t, create)
		})
	}
}
