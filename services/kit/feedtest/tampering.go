package feedtest

import (
	"fmt"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pgtest"
)

// TamperingIsFound: whatever is done to the log behind the service's back, Verify names the first event that does not fit.
func TamperingIsFound(t *testing.T, s Subject) {
	cases := []struct {
		name, sql string
		broken    int64
	}{
		{"payload changed", "UPDATE event SET payload = payload || '\\x00' WHERE sequence = 3", 3},
		{"actor changed", "UPDATE event SET actor = 'users/someone' WHERE sequence = 2", 2},
		{"time changed", "UPDATE event SET occur_time = occur_time - interval '1 day' WHERE sequence = 5", 5},
		{"text moved between fields", "UPDATE event SET actor = actor || left(request_id, 1), request_id = substr(request_id, 2) WHERE sequence = 4", 4},
		{"removed", "DELETE FROM event WHERE sequence = 4", 4},
		{"end cut off", "DELETE FROM event WHERE sequence > 3", 4},
		{"two exchanged", "UPDATE event SET payload = (SELECT o.payload FROM event o WHERE o.sequence = 3 - event.sequence) WHERE sequence IN (1, 2)", 1},
		{"changed with its own link", "UPDATE event SET payload = '', chain = sha256('') WHERE sequence = 3", 3},
		{"head changed", "UPDATE feed_head SET head_chain = sha256('x')", 5},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			db := pgtest.New(t, s.Schema)
			for i := range 3 {
				add(t, db, "barrels/1", fmt.Sprint(i))
			}
			add(t, db, "barrels/2", "x", "y")
			require.NoError(t, feed.Number(within(t), db.Pool()))
			checked, err := feed.Verify(within(t), db)
			require.NoError(t, err)
			require.EqualValues(t, 5, checked)
			execAt(t, pgtest.AdminURL(t, s.Schema), s.Schema, c.sql)
			_, err = feed.Verify(within(t), db)
			var broken *feed.BrokenChainError
			require.ErrorAs(t, err, &broken)
			require.Equal(t, c.broken, broken.Sequence, err.Error())
		})
	}
}

// ServiceRoleCannotRewrite: the grants, not good will, keep the log as it is.
func ServiceRoleCannotRewrite(t *testing.T, s Subject) {
	db := pgtest.New(t, s.Schema)
	add(t, db, "barrels/1", "a")
	require.NoError(t, feed.Number(within(t), db.Pool()))
	for _, sql := range []string{
		"UPDATE event SET actor = ''", "DELETE FROM event", "TRUNCATE event", "INSERT INTO event SELECT * FROM event",
		"UPDATE event_pending SET actor = ''", "DELETE FROM event_pending",
		"UPDATE feed_head SET head_sequence = 0", "DELETE FROM feed_head",
		"UPDATE request_ledger SET method = ''", "DELETE FROM request_ledger",
		"UPDATE feed_skipped SET reason = 'x'", "DELETE FROM feed_skipped",
		"DELETE FROM feed_cursor", "INSERT INTO migration (version_id, is_applied) VALUES (9, true)",
		"CREATE TABLE another (a int)", "ALTER TABLE event ADD COLUMN a int",
	} {
		_, err := db.Pool().Exec(within(t), sql)
		var refusal *pgconn.PgError
		require.ErrorAs(t, err, &refusal, sql)
		require.Equal(t, "42501", refusal.Code, "%s must be refused for want of a right, got: %s", sql, refusal.Message)
	}
}
