package session_test

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/session"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

const (
	password = "three spoons of clover"
	here     = "192.0.2.1"
	there    = "198.51.100.7"
)

var opening = time.Date(2026, 9, 14, 12, 5, 0, 0, time.UTC)

type world struct {
	*session.Keeper
	db    *pg.DB
	clock *clock.Fake
}

func newWorld(t *testing.T) world {
	t.Helper()
	policy := session.DefaultPolicy()
	policy.Cost = session.Cost{MemoryKiB: 64, Passes: 1}
	db, clk := pgtest.New(t, "gateway"), clock.NewFake(opening)
	return world{Keeper: session.New(db, clk, policy), db: db, clock: clk}
}

var (
	dock   = session.Login{Name: "dock1", Roles: []accessv1.Role{accessv1.Role_ROLE_DOCK}}
	member = session.Login{Name: "juniper", Roles: []accessv1.Role{accessv1.Role_ROLE_MEMBER}, Member: "members/M-0012"}
	admin  = session.Login{Name: "admin", Roles: []accessv1.Role{accessv1.Role_ROLE_ADMINISTRATOR}}
)

func (w world) add(t *testing.T, logins ...session.Login) {
	t.Helper()
	for _, l := range logins {
		_, err := w.Create(t.Context(), "users/admin", l, password)
		require.NoError(t, err)
	}
}

func (w world) enter(t *testing.T, login string) string {
	t.Helper()
	token, _, err := w.SignIn(t.Context(), login, password, here)
	require.NoError(t, err)
	return token
}

// events lists what was recorded about a login.
func (w world) events(t *testing.T, login string) []string {
	t.Helper()
	rows, err := w.db.Pool().Query(t.Context(), `SELECT kind FROM login_event WHERE login = $1 ORDER BY event_id`, login)
	require.NoError(t, err)
	defer rows.Close()
	var kinds []string
	for rows.Next() {
		var kind string
		require.NoError(t, rows.Scan(&kind))
		kinds = append(kinds, kind)
	}
	require.NoError(t, rows.Err())
	return kinds
}

func refusedEntry(t *testing.T, err error) apierr.Details {
	t.Helper()
	return rpctest.RefusedAs(t, err, errorv1.Reason_REASON_UNAUTHENTICATED, nil)
}

func TestSignIn_GivesWhoIsCalling(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, member)
	token, s, err := w.SignIn(t.Context(), " Juniper ", password, here)
	require.NoError(t, err)
	require.Equal(t, opening.Add(7*24*time.Hour), s.ExpireTime)
	found, err := w.Identify(t.Context(), token)
	require.NoError(t, err)
	require.Equal(t, "users/juniper", found.Actor().Login)
	require.Equal(t, "members/M-0012", found.Actor().Member)
	require.True(t, found.Actor().OnlyMember())

	require.NoError(t, w.SignOut(t.Context(), token, here))
	_, err = w.Identify(t.Context(), token)
	refusedEntry(t, err)
	require.NoError(t, w.SignOut(t.Context(), token, here), "twice is no error")
	require.Equal(t, []string{"CREATED", "SIGNED_IN", "SIGNED_OUT"}, w.events(t, "juniper"))
}

func TestSignIn_OneAnswerForEveryWrongPair(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, admin, dock, member)
	require.NoError(t, w.SetActive(t.Context(), "users/admin", "juniper", false))
	_, _, wrong := w.SignIn(t.Context(), "dock1", "three spoons of basswood", here)
	_, _, unknown := w.SignIn(t.Context(), "nobody", password, here)
	_, _, shut := w.SignIn(t.Context(), "juniper", password, here)
	require.Equal(t, refusedEntry(t, wrong), refusedEntry(t, unknown))
	for _, noText := range []string{"dock1\x00", "dock1\xff"} {
		_, _, err := w.SignIn(t.Context(), noText, password, here)
		require.Equal(t, refusedEntry(t, wrong), refusedEntry(t, err), "%q", noText)
	}
	require.Equal(t, refusedEntry(t, wrong), refusedEntry(t, shut))
	require.Equal(t, []string{"CREATED", "SIGN_IN_REFUSED"}, w.events(t, "dock1"))
}

func TestIdentify_EndsWithDisuseAndAge(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	token := w.enter(t, "dock1")
	for range 13 {
		w.clock.Advance(11 * time.Hour)
		_, err := w.Identify(t.Context(), token)
		require.NoError(t, err, "used every eleven hours, not yet seven days old")
	}
	w.clock.Advance(12 * time.Hour)
	_, err := w.Identify(t.Context(), token)
	refusedEntry(t, err)

	token = w.enter(t, "dock1")
	for range 15 {
		w.clock.Advance(11 * time.Hour)
		_, err = w.Identify(t.Context(), token)
		require.NoError(t, err)
	}
	w.clock.Advance(4 * time.Hour)
	_, err = w.Identify(t.Context(), token)
	refusedEntry(t, err)
}

func TestIdentify_AnInventedTokenIsRefused(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	w.enter(t, "dock1")
	for _, token := range []string{"", "x", "'; DROP TABLE session; --"} {
		_, err := w.Identify(t.Context(), token)
		refusedEntry(t, err)
	}
}

func TestThrottle_RefusesALoginFromOneAddress(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	for _, name := range []string{"dock1", "nobody"} {
		for range 5 {
			_, _, err := w.SignIn(t.Context(), name, "a wrong password", here)
			refusedEntry(t, err)
		}
		_, _, err := w.SignIn(t.Context(), name, password, here)
		rpctest.Refused(t, err, codes.ResourceExhausted, errorv1.Reason_REASON_UNAVAILABLE, map[string]string{"retry_after_seconds": "900"})
	}
	_, _, err := w.SignIn(t.Context(), "dock1", password, there)
	require.NoError(t, err, "the person can still sign in from elsewhere")
	w.clock.Advance(15 * time.Minute)
	_, _, err = w.SignIn(t.Context(), "dock1", password, here)
	require.NoError(t, err, "after the window")
}

func TestThrottle_SuccessBeginsTheCountAnew(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	for range 3 {
		for range 4 {
			_, _, err := w.SignIn(t.Context(), "dock1", "a wrong password", here)
			refusedEntry(t, err)
		}
		w.enter(t, "dock1")
	}
}

func TestThrottle_RefusesALoginFromManyAddressesAndAnAddressWithManyLogins(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	policy := session.DefaultPolicy()
	policy.Cost, policy.LoginFailures, policy.AddressFailures = session.Cost{MemoryKiB: 64, Passes: 1}, 6, 8
	strict := session.New(w.db, w.clock, policy)
	for i := range 6 {
		_, _, err := strict.SignIn(t.Context(), "dock1", "a wrong password", []string{"a", "b", "c"}[i%3])
		refusedEntry(t, err)
	}
	_, _, err := strict.SignIn(t.Context(), "dock1", password, "d")
	require.Equal(t, codes.ResourceExhausted, apierr.Parse(err).Code)
	for i := range 8 {
		_, _, err := strict.SignIn(t.Context(), "guess"+string(rune('a'+i)), password, "e")
		refusedEntry(t, err)
	}
	_, _, err = strict.SignIn(t.Context(), "anybody", password, "e")
	require.Equal(t, codes.ResourceExhausted, apierr.Parse(err).Code)
}

// Guesses sent at the same moment must not all be looked at before the first of them is counted.
func TestThrottle_CountsConcurrentGuesses(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock)
	var looked, refused atomic.Int32
	var guesses sync.WaitGroup
	for range 40 {
		guesses.Go(func() {
			_, _, err := w.SignIn(context.Background(), "dock1", "a wrong password", here)
			switch apierr.Parse(err).Code {
			case codes.Unauthenticated:
				looked.Add(1)
			case codes.ResourceExhausted:
				refused.Add(1)
			default: // the counts below do not add up
			}
		})
	}
	guesses.Wait()
	require.Equal(t, int32(5), looked.Load())
	require.Equal(t, int32(35), refused.Load())
}

func TestChange_EndsSessionsAtOnce(t *testing.T) {
	t.Parallel()
	changes := map[string]func(w world) error{
		"deactivated": func(w world) error { return w.SetActive(context.Background(), "users/admin", "dock1", false) },
		"new password": func(w world) error {
			return w.SetPassword(context.Background(), "users/admin", "dock1", "four spoons of clover")
		},
		"new roles": func(w world) error {
			return w.SetRoles(context.Background(), "users/admin", session.Login{Name: "dock1", Roles: []accessv1.Role{accessv1.Role_ROLE_LAB}})
		},
		"own password": func(w world) error {
			return w.ChangePassword(context.Background(), "dock1", password, "four spoons of clover", here)
		},
	}
	for name, change := range changes {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			w := newWorld(t)
			w.add(t, admin, dock)
			token := w.enter(t, "dock1")
			other := w.enter(t, "admin")
			require.NoError(t, change(w))
			_, err := w.Identify(t.Context(), token)
			refusedEntry(t, err)
			_, err = w.Identify(t.Context(), other)
			require.NoError(t, err, "others stay signed in")
		})
	}
}

// TestChange_OfAnotherGatewayCountsWithinASecond has two gateways over one database.
func TestChange_OfAnotherGatewayCountsWithinASecond(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, dock, admin)
	token := w.enter(t, dock.Name)
	_, err := w.Identify(t.Context(), token)
	require.NoError(t, err)
	elsewhere := session.New(w.db, w.clock, session.DefaultPolicy())
	require.NoError(t, elsewhere.SetActive(t.Context(), "users/admin", dock.Name, false))
	_, err = elsewhere.Identify(t.Context(), token)
	require.Error(t, err, "at once where it was done")
	w.clock.Advance(time.Second)
	_, err = w.Identify(t.Context(), token)
	require.Error(t, err)
}

func TestChangePassword_NeedsTheCurrentOne(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, admin, dock)
	err := w.ChangePassword(t.Context(), "dock1", "a wrong password", "four spoons of clover", here)
	rpctest.Faults(t, err, "current_password")
	err = w.ChangePassword(t.Context(), "dock1", password, "short", here)
	rpctest.Faults(t, err, "password")
	w.enter(t, "dock1")
}

func TestLastAdministrator_Stays(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.add(t, admin)
	state := map[string]string{"resource": "logins/admin", "state": "LAST_ADMINISTRATOR"}
	err := w.SetActive(t.Context(), "users/admin", "admin", false)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	err = w.SetRoles(t.Context(), "users/admin", session.Login{Name: "admin", Roles: dock.Roles})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	w.enter(t, "admin")
}

// Two administrators deactivating each other at the same moment must not leave the cooperative without one.
func TestLastAdministrator_StaysWhenTwoGoAtOnce(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	second := session.Login{Name: "second", Roles: admin.Roles}
	w.add(t, admin, second)
	var done atomic.Int32
	var both sync.WaitGroup
	for _, name := range []string{"admin", "second"} {
		both.Go(func() {
			if w.SetActive(context.Background(), "users/x", name, false) == nil {
				done.Add(1)
			}
		})
	}
	both.Wait()
	require.Equal(t, int32(1), done.Load())
}

func TestCreate_SaysEverythingThatIsWrong(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	_, err := w.Create(t.Context(), "users/admin", session.Login{Name: "Ä", Member: "M-1"}, "short")
	rpctest.Faults(t, err, "login", "member", "password", "roles")
	_, err = w.Create(t.Context(), "users/admin", session.Login{Name: "robot", Roles: []accessv1.Role{accessv1.Role_ROLE_SERVICE}}, password)
	rpctest.Faults(t, err, "roles")
	_, err = w.Create(t.Context(), "users/admin", session.Login{Name: "juniper.ridge", Roles: member.Roles}, "Juniper.Ridge")
	rpctest.Faults(t, err, "member", "password")
	w.add(t, dock)
	_, err = w.Create(t.Context(), "users/admin", dock, password)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": "logins/dock1"})
}

func TestUnknownLogin_CannotBeChanged(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	err := w.SetActive(t.Context(), "users/admin", "nobody", false)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "logins/nobody"})
	_, err = w.Get(t.Context(), "nobody")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

func TestEnsureAdministrator_CreatesMendsAndRepeats(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	require.NoError(t, w.EnsureAdministrator(t.Context(), "admin", password))
	token := w.enter(t, "admin")
	require.NoError(t, w.EnsureAdministrator(t.Context(), "admin", password))
	_, err := w.Identify(t.Context(), token)
	require.NoError(t, err, "a repeat changes nothing")
	require.NoError(t, w.EnsureAdministrator(t.Context(), "admin", "four spoons of clover"))
	_, _, err = w.SignIn(t.Context(), "admin", "four spoons of clover", here)
	require.NoError(t, err)

	w.add(t, dock)
	require.NoError(t, w.SetActive(t.Context(), "users/admin", "dock1", false))
	require.NoError(t, w.EnsureAdministrator(t.Context(), "dock1", password))
	mended, err := w.Get(t.Context(), "dock1")
	require.NoError(t, err)
	require.True(t, mended.Active)
	require.Equal(t, []accessv1.Role{accessv1.Role_ROLE_DOCK, accessv1.Role_ROLE_ADMINISTRATOR}, mended.Roles)
}
