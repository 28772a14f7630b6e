package session_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

// insufficientPrivilege is PostgreSQL's SQLSTATE for what a role may not do.
const insufficientPrivilege = "42501"

func TestStored_NeitherTokenNorPassword(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	token := w.enter(t, "dock1")
	_, _, err := w.SignIn(t.Context(), "my secret typed into the wrong field", password, here)
	refusedEntry(t, err)
	for _, table := range []string{"login", "login_event", "session", "sign_in_attempt"} {
		var rows string
		require.NoError(t, w.db.Pool().QueryRow(t.Context(), `SELECT coalesce(string_agg(r::text, E'\n'), '') FROM `+table+` r`).Scan(&rows))
		require.NotEmpty(t, rows, table)
		for _, secret := range []string{token, password, "wrong field"} {
			require.NotContains(t, rows, secret, table)
		}
	}
}

func TestStored_HashCostsWhatThePolicySays(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "gateway")
	keeper := session.New(db, clock.System, session.DefaultPolicy())
	_, err := keeper.Create(t.Context(), "operator", dock, password)
	require.NoError(t, err)
	var hash string
	require.NoError(t, db.Pool().QueryRow(t.Context(), `SELECT password_hash FROM login`).Scan(&hash))
	require.True(t, strings.HasPrefix(hash, "$argon2id$v=19$m=19456,t=2,p=1$"), hash)
}

func TestStored_SignInRenewsAHashOfAnOldCost(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	policy := session.DefaultPolicy()
	policy.Cost = session.Cost{MemoryKiB: 128, Passes: 2}
	dearer := session.New(w.db, w.clock, policy)
	_, _, err := dearer.SignIn(t.Context(), "dock1", password, here)
	require.NoError(t, err)
	var hash string
	require.NoError(t, w.db.Pool().QueryRow(t.Context(), `SELECT password_hash FROM login`).Scan(&hash))
	require.Contains(t, hash, "$m=128,t=2,")
	_, _, err = dearer.SignIn(t.Context(), "dock1", password, here)
	require.NoError(t, err)
}

func TestStored_TheServiceRoleCannotRewriteHistory(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	w.enter(t, "dock1")
	for _, statement := range []string{
		`UPDATE login_event SET actor = 'users/nobody'`, `DELETE FROM login_event`, `DELETE FROM login`,
		`UPDATE login SET login = 'other'`, `UPDATE session SET login = 'other'`, `CREATE TABLE x (y int)`,
	} {
		_, err := w.db.Pool().Exec(t.Context(), statement)
		require.Equal(t, insufficientPrivilege, pg.Code(err), statement)
	}
}

func TestSweep_DropsWhatEndedAndKeepsTheRecord(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	old := w.enter(t, "dock1")
	require.NoError(t, w.SignOut(t.Context(), old, here))
	w.clock.Advance(25 * time.Hour)
	current := w.enter(t, "dock1")
	require.NoError(t, w.Sweep(t.Context()))
	var sessions, attempts int
	require.NoError(t, w.db.Pool().QueryRow(t.Context(), `SELECT (SELECT count(*) FROM session), (SELECT count(*) FROM sign_in_attempt)`).Scan(&sessions, &attempts))
	require.Equal(t, []int{1, 1}, []int{sessions, attempts})
	require.Equal(t, []string{"CREATED", "SIGNED_IN", "SIGNED_OUT", "SIGNED_IN"}, w.events(t, "dock1"))
	_, err := w.Identify(t.Context(), current)
	require.NoError(t, err)
}

func TestFormToken_FollowsFromTheSession(t *testing.T) {
	t.Parallel()
	require.True(t, session.SameFormToken("a", session.FormToken("a")))
	require.False(t, session.SameFormToken("b", session.FormToken("a")))
	require.False(t, session.SameFormToken("a", ""))
	require.NotContains(t, session.FormToken("secret-token"), "secret")
}

func TestSeal_HoldsValuesInTheirOrder(t *testing.T) {
	t.Parallel()
	seal := session.Seal("token", "682.0", "ST,GS,   682.0 lb")
	require.True(t, session.Sealed("token", seal, "682.0", "ST,GS,   682.0 lb"))
	require.False(t, session.Sealed("token", seal, "683.0", "ST,GS,   682.0 lb"))
	require.False(t, session.Sealed("token", seal, "682.0S", "T,GS,   682.0 lb"))
	require.False(t, session.Sealed("other", seal, "682.0", "ST,GS,   682.0 lb"))
	require.NotEqual(t, session.FormToken("token"), session.Seal("token"))
}
