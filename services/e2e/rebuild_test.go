package e2e

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/season"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpcdial"
)

// TestRebuild empties every read table of every service after a season and fills it from the feeds again: what stands in
// them is then the same, byte for byte, and so is what every member was paid.
func TestRebuild(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 9, Barrels: 40})
	require.NoError(t, w.crew.Work(t.Context(), w.client, "admin", season.Password))
	before := settled(t, w.crew)
	rebuilt := 0
	for _, name := range []string{"grading", "inventory", "settlement"} {
		conn, err := rpcdial.Dial(t.Context(), w.Services["gateway"], name)
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, conn.Close()) })
		admin := feedv1.NewFeedAdminServiceClient(conn)
		ctx := access.Outgoing(t.Context(), access.Actor{Login: "users/admin", Roles: []accessv1.Role{accessv1.Role_ROLE_ADMINISTRATOR}})
		list, err := admin.ListFeedSources(ctx, &feedv1.ListFeedSourcesRequest{})
		require.NoError(t, err)
		for _, source := range list.GetSources() {
			require.Nil(t, source.GetHalt())
			old := dump(t, w.Services[name].Database.URL, name)
			rebuild(ctx, t, admin, source.GetName())
			require.Equal(t, old, dump(t, w.Services[name].Database.URL, name), "%s after a rebuild of %s", name, source.GetName())
			rebuilt++
		}
	}
	require.Equal(t, 6, rebuilt, "grading follows one feed, inventory two, settlement three")
	require.Equal(t, before, settled(t, w.crew))
}

func rebuild(ctx context.Context, t *testing.T, admin feedv1.FeedAdminServiceClient, name string) {
	t.Helper()
	stream, err := admin.RebuildFeedSource(ctx, &feedv1.RebuildFeedSourceRequest{RequestId: uuid.NewString(), Name: name})
	require.NoError(t, err)
	for {
		if _, err := stream.Recv(); errors.Is(err, io.EOF) {
			return
		}
		require.NoError(t, err)
	}
}

// dump reads every table the service may empty, which are the read tables: records are never granted DELETE.
func dump(t *testing.T, url, schema string) map[string]string {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close(context.Background())) }()
	tables := query(t, conn, `SELECT table_name::text FROM information_schema.role_table_grants
WHERE table_schema = $1 AND grantee = $1 || '_app' AND privilege_type = 'DELETE' AND table_name NOT LIKE 'feed\_%'`, schema)
	require.NotEmpty(t, tables)
	content, rows := map[string]string{}, 0
	for _, table := range tables {
		lines := query(t, conn, `SELECT t::text FROM `+pgx.Identifier{schema, table}.Sanitize()+` t ORDER BY t::text COLLATE "C"`)
		content[table], rows = strings.Join(lines, "\n"), rows+len(lines)
	}
	require.Positive(t, rows, "the read tables of %s are empty", schema)
	return content
}

func query(t *testing.T, conn *pgx.Conn, sql string, args ...any) []string {
	t.Helper()
	rows, err := conn.Query(t.Context(), sql, args...)
	require.NoError(t, err)
	values, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(t, err)
	return values
}
