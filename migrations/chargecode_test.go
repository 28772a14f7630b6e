package migrations_test

import (
	"io/fs"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/pgtest"
)

// TestChargeCodes_AreGivenToChargesOfBefore opens charges as a house did before they had codes.
func TestChargeCodes_AreGivenToChargesOfBefore(t *testing.T) {
	t.Parallel()
	admin := pgtest.Empty(t)
	require.NoError(t, migrations.Up(t.Context(), "inventory", admin))
	file, err := fs.ReadFile(migrations.Files(), "inventory/00022_charge_code.sql")
	require.NoError(t, err)
	_, up, found := strings.Cut(string(file), "-- +goose Up")
	require.True(t, found)
	conn := connect(t, admin)
	run := func(sql string) {
		_, err := conn.Exec(t.Context(), sql)
		require.NoError(t, err, sql)
	}
	run(`SET search_path = inventory; SET timezone = 'America/Chicago'`)
	run(`INSERT INTO tank (tank, capacity, create_time) VALUES ('T1', 1000, now()), ('T-2', 1000, now())`)
	numbered := func() []string {
		run(`ALTER TABLE charge DROP COLUMN code; DROP INDEX charge_by_tank`)
		run(up)
		rows, err := conn.Query(t.Context(), `SELECT code FROM charge ORDER BY number`)
		require.NoError(t, err)
		codes, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		return codes
	}
	require.Empty(t, numbered(), "a house without charges has nothing to number")
	run(`INSERT INTO charge (charge, tank, variety, min_share, picks, opener, open_time, code)
		SELECT gen_random_uuid(), tank, '', 0, '{}', 'users/wh1', time::timestamptz, n::text
		FROM (VALUES (1, 'T1', '2025-12-31 23:59:59Z'), (2, 'T1', '2026-01-01 00:00:00Z'), (3, 'T-2', '2026-03-01Z'), (4, 'T1', '2026-03-01Z'), (5, 'T1', '2026-02-01Z')) c(n, tank, time)
		ORDER BY n`)
	want := []string{"T1-25-001", "T1-26-001", "T-2-26-001", "T1-26-002", "T1-26-003"}
	require.Equal(t, want, numbered(), "in the order they were opened, which their numbers keep")
	require.Equal(t, want, numbered(), "and the same each time")
	run(`INSERT INTO charge (charge, tank, variety, min_share, picks, opener, open_time, code)
		SELECT gen_random_uuid(), 'T1', '', 0, '{}', 'users/wh1', '2026-04-01', n::text FROM generate_series(1, 1000) n ORDER BY n`)
	codes := numbered()
	require.Equal(t, []string{"T1-26-999", "T1-26-1000"}, codes[len(codes)-5:len(codes)-3])
}
