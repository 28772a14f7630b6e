package main

import (
	"cmp"
	"os"
	"path/filepath"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/pgtest"
)

func written(t *testing.T, file, text string) string {
	t.Helper()
	require.NoError(t, os.WriteFile(file, []byte(text+"\n"), 0o600))
	return file
}

func TestRun_TheServicesCanLogIn(t *testing.T) {
	t.Parallel()
	admin := pgtest.Empty(t)
	dir := t.TempDir()
	owner := written(t, filepath.Join(dir, "owner.url"), admin)
	// The roles are those of every test on the server: where it asks for passwords, theirs stay what they are.
	config, err := pgx.ParseConfig(admin)
	require.NoError(t, err)
	password := cmp.Or(config.Password, "barrels")
	for _, schema := range migrations.Schemas() {
		written(t, filepath.Join(dir, schema+".url"), "host=db user="+schema+"_app password='"+password+"'")
	}
	for range 2 {
		require.NoError(t, run(t.Context(), owner, dir))
	}
	conn, err := pgx.Connect(t.Context(), admin)
	require.NoError(t, err)
	defer func() { require.NoError(t, conn.Close(t.Context())) }()
	var withPassword int
	require.NoError(t, conn.QueryRow(t.Context(), "SELECT count(rolpassword) FROM pg_authid WHERE rolname LIKE '%\\_app'").Scan(&withPassword))
	require.Equal(t, len(migrations.Schemas()), withPassword)
}

func TestRun_RefusesTheWrongLogin(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	owner := written(t, filepath.Join(dir, "owner.url"), pgtest.Empty(t))
	first := filepath.Join(dir, migrations.Schemas()[0]+".url")
	for text, says := range map[string]string{
		"postgres://postgres:secret@db/barrelhead":                     `says "postgres"`,
		"postgres://" + migrations.Schemas()[0] + "_app@db/barrelhead": "with a password",
		"postgres://u:secret@/%zz":                                     "no connection string",
	} {
		written(t, first, text)
		err := run(t.Context(), owner, dir)
		require.ErrorContains(t, err, says)
		require.NotContains(t, err.Error(), "secret")
	}
	require.NoError(t, os.Remove(first))
	require.ErrorContains(t, run(t.Context(), owner, dir), first)
}
