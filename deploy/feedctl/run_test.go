package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedadmin"
	"barrelhead.example/services/kit/feedtest"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

// warehouse follows the feed of a dock that said something it cannot take in.
type warehouse struct {
	t      *testing.T
	db     *pg.DB
	dock   *pg.DB
	server *rpctest.Server
}

func newWarehouse(t *testing.T) *warehouse {
	t.Helper()
	w := &warehouse{t: t, dock: pgtest.New(t, "intake"), db: pgtest.New(t, "inventory")}
	c := &feed.Consumer{
		Name: "stock", Source: "intake", DB: w.db, Client: feedtest.Serve(t, feed.NewServer(w.dock)),
		FirstPause: 4 * time.Millisecond,
		Apply: func(_ context.Context, _ pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
			if ev.Payload.(*wrapperspb.StringValue).GetValue() == "twice" {
				panic("the drum holds a barrel already")
			}
			return nil, nil
		},
	}
	admin := feedadmin.New(w.db, clock.System, c)
	w.server = rpctest.New(t, func(r grpc.ServiceRegistrar) { feedv1.RegisterFeedAdminServiceServer(r, admin) })
	require.NoError(t, w.dock.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{},
			feed.Fact{Aggregate: "barrels/1", Payload: wrapperspb.String("once")},
			feed.Fact{Aggregate: "barrels/2", Payload: wrapperspb.String("twice")},
			feed.Fact{Aggregate: "barrels/3", Payload: wrapperspb.String("once")})
	}))
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	t.Cleanup(func() { stop(); require.NoError(t, <-ended) })
	w.await("SELECT coalesce(max(halted_sequence), 0) = 2 FROM feed_cursor")
	return w
}

func (w *warehouse) await(condition string) {
	w.t.Helper()
	require.Eventually(w.t, func() bool {
		var met bool
		return w.db.Pool().QueryRow(w.t.Context(), condition).Scan(&met) == nil && met
	}, 30*time.Second, 5*time.Millisecond, condition)
}

// feedctl runs the command as an operator would.
func (w *warehouse) feedctl(args ...string) (code int, out string, err error) {
	var b strings.Builder
	code, err = run(w.t.Context(), append([]string{
		"-address", w.server.Address, "-service", "intake", "-certs", w.server.Dir, "-as", "users/admin1",
	}, args...), &b)
	return code, b.String(), err
}

func TestFeedctl_FromHaltToGoingOn(t *testing.T) {
	t.Parallel()
	w := newWarehouse(t)
	code, out, err := w.feedctl("list")
	require.NoError(t, err)
	require.Equal(t, attention, code)
	require.Contains(t, out, "feedSources/stock: event 1 of 3 of intake")
	require.Contains(t, out, "HALTED at event 2")
	require.Contains(t, out, "the drum holds a barrel already")

	_, _, err = w.feedctl("skip", "stock", "1", "not the one it is halted at")
	require.ErrorContains(t, err, "halted at event 2")
	_, _, err = w.feedctl("skip", "stock", "2", "short")
	require.ErrorContains(t, err, "reason")
	_, _, err = w.feedctl("retry", "honey")
	require.ErrorContains(t, err, "feedSources/honey does not exist")

	code, out, err = w.feedctl("skip", "stock", "2", "entered twice, see the paper ticket")
	require.NoError(t, err)
	require.Zero(t, code)
	require.NotContains(t, out, "HALTED")
	w.await("SELECT sequence = 3 FROM feed_cursor")
	var actor string
	require.NoError(t, w.db.Pool().QueryRow(t.Context(), "SELECT actor FROM feed_skipped").Scan(&actor))
	require.Equal(t, "users/admin1", actor)

	code, out, err = w.feedctl("rebuild", "stock")
	require.NoError(t, err)
	require.Zero(t, code)
	require.Contains(t, out, "3 of 3 events")

	code, _, err = w.feedctl("retry", "stock")
	require.NoError(t, err, "nothing is halted, nothing happens")
	require.Zero(t, code)
}

func TestFeedctl_Verify(t *testing.T) {
	t.Parallel()
	w := newWarehouse(t)
	require.NoError(t, w.db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{}, feed.Fact{Aggregate: "lots/1", Payload: wrapperspb.String("x")})
	}))
	code, out, err := w.feedctl("verify")
	require.NoError(t, err)
	require.Zero(t, code)
	require.Contains(t, out, "all 1 events")
	pgtest.Exec(t, "inventory", "UPDATE event SET aggregate = 'lots/2'")
	code, out, err = w.feedctl("verify")
	require.NoError(t, err)
	require.Equal(t, attention, code)
	require.Contains(t, out, "event 1 is not what was recorded")
}

// Somebody with access to the database cuts the end off and sets the head back, or makes the whole chain anew: the log is sound
// in itself, and only what was kept elsewhere tells.
func TestFeedctl_KeptDigests(t *testing.T) {
	t.Parallel()
	w := newWarehouse(t)
	say := func(n int) {
		require.NoError(t, w.db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			return feed.Append(ctx, tx, time.Now(), feed.Meta{}, feed.Fact{Aggregate: fmt.Sprintf("lots/%d", n), Payload: wrapperspb.String("x")})
		}))
	}
	code, out, err := w.feedctl("digest")
	require.NoError(t, err)
	require.Zero(t, code)
	require.Empty(t, out, "an empty log has none")
	var lines string
	keep := func() string {
		_, line, err := w.feedctl("digest")
		require.NoError(t, err)
		lines += line
		file := filepath.Join(t.TempDir(), "digests.jsonl")
		require.NoError(t, os.WriteFile(file, []byte(`{"service":"grading","log":"x","sequence":9,"chain":"00"}`+"\n"+lines), 0o600))
		return file
	}
	say(1)
	keep()
	say(2)
	say(3)
	file := keep()
	code, out, err = w.feedctl("compare", file)
	require.NoError(t, err)
	require.Zero(t, code, out)
	require.Contains(t, out, "all 3 events are what was recorded")

	cut := func(sql string) {
		pgtest.Exec(t, "inventory", sql)
		code, out, err = w.feedctl("verify")
		require.NoError(t, err)
		require.Zero(t, code, "in itself the log is sound: %s", out)
		code, out, err = w.feedctl("compare", file)
		require.NoError(t, err)
		require.Equal(t, attention, code)
	}
	cut(`WITH gone AS (DELETE FROM event WHERE sequence = 3)
		UPDATE feed_head SET head_sequence = 2, head_chain = (SELECT chain FROM event WHERE sequence = 2)`)
	require.Contains(t, out, "event 3 is gone: a kept digest reaches to event 3, and the log ends at 2")
	say(4)
	cut(`SELECT 1`)
	require.Contains(t, out, "event 2 or a later one up to 3 is not what was recorded")
	cut(`UPDATE feed_head SET log_id = gen_random_uuid()`)
	require.Contains(t, out, "event 1 begins another log")
	_, _, err = w.feedctl("compare", filepath.Join(t.TempDir(), "none"))
	require.ErrorContains(t, err, "no such file")
}

func TestFeedctl_SaysWhatItNeeds(t *testing.T) {
	t.Parallel()
	_, err := run(t.Context(), []string{"list"}, &strings.Builder{})
	require.ErrorContains(t, err, "-address")
}

func TestRoles(t *testing.T) {
	t.Parallel()
	w := newWarehouse(t)
	rpctest.Matrix(t, w.server.Gateway(), "barrelhead.feed.v1.FeedAdminService")
}
