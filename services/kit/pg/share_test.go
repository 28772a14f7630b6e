package pg_test

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

func TestShare_CommitsSeveralTogether(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	const callers = 200
	var group errgroup.Group
	for i := range callers {
		group.Go(func() error {
			return db.Share(t.Context(), fmt.Sprint(i), func(b *pgx.Batch) { b.Queue(addRow, fmt.Sprint(i)) })
		})
	}
	require.NoError(t, group.Wait())
	require.Equal(t, callers, count(t, db))
	var transactions int
	require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT count(DISTINCT xmin::text) FROM feed_cursor").Scan(&transactions))
	require.Less(t, transactions, callers/2, "commits are shared")
}

// TestShare_OneFailureHarmsNobodyElse mixes every kind of failure among good callers.
func TestShare_OneFailureHarmsNobodyElse(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	_, err := db.Pool().Exec(t.Context(), addRow, "taken")
	require.NoError(t, err)
	closed := errors.New("the ticket is closed")
	bad := map[string]struct {
		fill  func(b *pgx.Batch)
		check func(error) bool
	}{
		"constraint": {
			func(b *pgx.Batch) { b.Queue(addRow, "taken") },
			func(err error) bool { return pg.Constraint(err) == "feed_cursor_pk" },
		},
		"guard": {
			func(b *pgx.Batch) {
				b.Queue(addRow, "guarded")
				b.Queue("UPDATE feed_cursor SET sequence = 1 WHERE consumer = 'absent'").Exec(func(tag pgconn.CommandTag) error {
					if tag.RowsAffected() == 0 {
						return closed
					}
					return nil
				})
			},
			func(err error) bool { return errors.Is(err, closed) },
		},
		"syntax": {
			func(b *pgx.Batch) { b.Queue(addRow, "half"); b.Queue("SELECT nonsense") },
			func(err error) bool { return pg.Code(err) == "42703" },
		},
		"panic": {
			func(*pgx.Batch) { panic("bad day") },
			func(err error) bool { return err != nil && !errors.Is(err, closed) },
		},
	}
	var group errgroup.Group
	const good = 60
	for i := range good {
		group.Go(func() error {
			return db.Share(t.Context(), fmt.Sprint(i), func(b *pgx.Batch) { b.Queue(addRow, fmt.Sprint("good", i)) })
		})
	}
	for name, c := range bad {
		for range 5 {
			group.Go(func() error {
				if err := db.Share(t.Context(), name, c.fill); !c.check(err) {
					return fmt.Errorf("%s: got %w", name, err)
				}
				return nil
			})
		}
	}
	require.NoError(t, group.Wait())
	require.Equal(t, good+1, count(t, db), "all good ones and nothing of the bad ones")
}

// TestShare_SortedKeysCannotDeadlock has every caller update one of two rows; without the order, two transactions with
// both rows would wait for each other and some callers would have run again.
func TestShare_SortedKeysCannotDeadlock(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	keys := []string{"a", "b"}
	for _, key := range keys {
		_, err := db.Pool().Exec(t.Context(), addRow, key)
		require.NoError(t, err)
	}
	var fills atomic.Int32
	var group errgroup.Group
	const callers = 120
	for i := range callers {
		group.Go(func() error {
			key := keys[i%2]
			return db.Share(t.Context(), key, func(b *pgx.Batch) {
				fills.Add(1)
				b.Queue("UPDATE feed_cursor SET sequence = sequence + 1 WHERE consumer = $1", key)
			})
		})
	}
	require.NoError(t, group.Wait())
	require.EqualValues(t, callers, fills.Load(), "nothing ran twice")
	var sum int
	require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT sum(sequence) FROM feed_cursor").Scan(&sum))
	require.Equal(t, callers, sum)
}

func TestShare_CallerWhoLeavesHarmsNobody(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	var group errgroup.Group
	for i := range 40 {
		group.Go(func() error {
			ctx := t.Context()
			if i%4 == 0 {
				ctx = gone
			}
			err := db.Share(ctx, fmt.Sprint(i), func(b *pgx.Batch) { b.Queue(addRow, fmt.Sprint(i)) })
			if i%4 == 0 && errors.Is(err, context.Canceled) {
				return nil
			}
			return err
		})
	}
	require.NoError(t, group.Wait())
	require.GreaterOrEqual(t, count(t, db), 30)
}

// TestShare_LostConnection may leave some callers without a certain answer, but never with a wrong one.
func TestShare_LostConnection(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	var group errgroup.Group
	var told atomic.Int32
	for i := range 30 {
		group.Go(func() error {
			err := db.Share(t.Context(), fmt.Sprint(i), func(b *pgx.Batch) {
				b.Queue(addRow, fmt.Sprint(i))
				if i == 7 {
					b.Queue("SELECT pg_terminate_backend(pg_backend_pid())")
				}
			})
			switch {
			case err == nil:
				told.Add(1)
			case !pg.IsUnavailable(err):
				return fmt.Errorf("got %w", err)
			}
			return nil
		})
	}
	require.NoError(t, group.Wait())
	require.EqualValues(t, told.Load(), count(t, db), "this server died before the commit, so nobody without an answer is in")
	require.Less(t, told.Load(), int32(30))
	require.NoError(t, db.Share(t.Context(), "x", func(b *pgx.Batch) { b.Queue(addRow, "after") }))
}

// TestShare_UnknownOutcomeIsNotRepeated loses the connection in the middle of COMMIT.
func TestShare_UnknownOutcomeIsNotRepeated(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	pgtest.Exec(t, "intake", `CREATE FUNCTION die() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER AS
		'BEGIN PERFORM pg_terminate_backend(pg_backend_pid()); RETURN NULL; END'`)
	pgtest.Exec(t, "intake", `CREATE CONSTRAINT TRIGGER die AFTER INSERT ON feed_cursor DEFERRABLE INITIALLY DEFERRED
		FOR EACH ROW EXECUTE FUNCTION die()`)
	var fills atomic.Int32
	var group errgroup.Group
	for i := range 10 {
		group.Go(func() error {
			err := db.Share(t.Context(), fmt.Sprint(i), func(b *pgx.Batch) {
				fills.Add(1)
				b.Queue(addRow, fmt.Sprint(i))
			})
			if !pg.IsUnavailable(err) {
				return fmt.Errorf("got %w", err)
			}
			return nil
		})
	}
	require.NoError(t, group.Wait())
	require.EqualValues(t, 10, fills.Load(), "nothing was sent a second time")
}

func TestInSteps_ClosingCallbackCanStillRefuse(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	refusal := errors.New("no")
	err := db.InSteps(t.Context(), pg.Steps{Do: func(_ context.Context, _ pgx.Tx, closing *pgx.Batch) error {
		closing.Queue(addRow, "a").Exec(func(pgconn.CommandTag) error { return refusal })
		return nil
	}})
	require.ErrorIs(t, err, refusal)
	require.Zero(t, count(t, db))
}
