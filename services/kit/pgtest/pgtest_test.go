package pgtest_test

import (
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/pgtest"
)

func TestEverySchemaIsMigratedAndReady(t *testing.T) {
	t.Parallel()
	for _, schema := range migrations.Schemas() {
		t.Run(schema, func(t *testing.T) {
			t.Parallel()
			db := pgtest.New(t, schema)
			require.NoError(t, db.Ready(t.Context(), migrations.Latest(schema)))
			var user, path string
			require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT current_user, current_schema()").Scan(&user, &path))
			require.Equal(t, schema+"_app", user)
			require.Equal(t, schema, path)
		})
	}
}

func TestDatabasesAreSeparate(t *testing.T) {
	t.Parallel()
	first, second := pgtest.New(t, "intake"), pgtest.New(t, "intake")
	_, err := first.Pool().Exec(t.Context(), "INSERT INTO feed_cursor (consumer, source) VALUES ('a', 'b')")
	require.NoError(t, err)
	var rows int
	require.NoError(t, second.Pool().QueryRow(t.Context(), "SELECT count(*) FROM feed_cursor").Scan(&rows))
	require.Zero(t, rows)
}

func TestURLBelongsToTheNewestDatabase(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "grading")
	conn, err := pgx.Connect(t.Context(), pgtest.URL(t, "grading"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close(t.Context())) })
	var here, there string
	require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT current_database()").Scan(&here))
	require.NoError(t, conn.QueryRow(t.Context(), "SELECT current_database()").Scan(&there))
	require.Equal(t, here, there)
}

func TestEmptyHasNoSchema(t *testing.T) {
	t.Parallel()
	conn, err := pgx.Connect(t.Context(), pgtest.Empty(t))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close(t.Context())) })
	var schemas int
	require.NoError(t, conn.QueryRow(t.Context(), "SELECT count(*) FROM pg_namespace WHERE nspname = ANY($1)", migrations.Schemas()).Scan(&schemas))
	require.Zero(t, schemas)
}
