package pg_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

const addRow = "INSERT INTO feed_cursor (consumer, source) VALUES ($1, 'x')"

func count(t *testing.T, db *pg.DB) (n int) {
	t.Helper()
	require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT count(*) FROM feed_cursor").Scan(&n))
	return n
}

func TestInTx_CommitsOrRollsBack(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, addRow, "kept")
		return err
	}))
	refusal := errors.New("no")
	require.ErrorIs(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, addRow, "dropped")
		require.NoError(t, err)
		return refusal
	}), refusal)
	require.Equal(t, 1, count(t, db))
	require.Zero(t, db.Pool().Stat().AcquiredConns())
}

func TestInTx_PanicGivesTheConnectionBack(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	require.PanicsWithValue(t, "bad day", func() {
		_ = db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			_, err := tx.Exec(ctx, addRow, "dropped")
			require.NoError(t, err)
			panic("bad day")
		})
	})
	require.Zero(t, count(t, db))
	require.Zero(t, db.Pool().Stat().AcquiredConns())
}

func TestInTx_CancelledContextRollsBack(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	ctx, cancel := context.WithCancel(t.Context())
	err := db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		_, err := tx.Exec(ctx, addRow, "dropped")
		require.NoError(t, err)
		cancel()
		return ctx.Err()
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Zero(t, count(t, db))
}

func TestInTx_RetriesADeadlock(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	for _, name := range []string{"a", "b"} {
		_, err := db.Pool().Exec(t.Context(), addRow, name)
		require.NoError(t, err)
	}
	var attempts, holding atomic.Int32
	both, saved := make(chan struct{}), make(chan struct{})
	lock := func(ctx context.Context, tx pgx.Tx, name string) error {
		_, err := tx.Exec(ctx, "UPDATE feed_cursor SET sequence = sequence + 1 WHERE consumer = $1", name)
		return err
	}
	var once sync.Once
	crossing := func(first, second string) error {
		defer once.Do(func() { close(saved) })
		return db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			if attempts.Add(1) > 2 {
				// The refused one may take its row again before the other, let go, has woken: a second deadlock.
				<-saved
			}
			if err := lock(ctx, tx, first); err != nil {
				return err
			}
			if holding.Add(1) == 2 {
				close(both)
			}
			<-both
			return lock(ctx, tx, second)
		})
	}
	var group errgroup.Group
	group.Go(func() error { return crossing("a", "b") })
	group.Go(func() error { return crossing("b", "a") })
	require.NoError(t, group.Wait())
	require.EqualValues(t, 3, attempts.Load(), "one of the two ran again")
	var sum int
	require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT sum(sequence) FROM feed_cursor").Scan(&sum))
	require.Equal(t, 4, sum)
}

func TestInTx_GivesUpAfterFiveConflicts(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	attempts := 0
	err := db.InTx(t.Context(), func(context.Context, pgx.Tx) error {
		attempts++
		return &pgconn.PgError{Code: "40P01"}
	})
	require.ErrorIs(t, err, pg.ErrConflict)
	require.Equal(t, 5, attempts)
}

func TestInTx_SwallowedFailureIsNoCommit(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	err := db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		_, _ = tx.Exec(ctx, "SELECT 1/0")
		return nil
	})
	require.ErrorIs(t, err, pgx.ErrTxCommitRollback)
}

func TestInSteps_ClosingStatementsAreInOrOutTogether(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	steps := func(last string) error {
		var opened int
		return db.InSteps(t.Context(), pg.Steps{
			Open: func(b *pgx.Batch) {
				b.Queue("SELECT 7").QueryRow(func(row pgx.Row) error { return row.Scan(&opened) })
			},
			Do: func(_ context.Context, _ pgx.Tx, closing *pgx.Batch) error {
				require.Equal(t, 7, opened)
				closing.Queue(addRow, "first")
				closing.Queue(addRow, last)
				return nil
			},
		})
	}
	duplicate := errors.New("known already")
	err := steps("first")
	require.ErrorIs(t, pg.Named(err, map[string]error{"feed_cursor_pk": duplicate}), duplicate)
	require.Equal(t, "feed_cursor_pk", pg.Constraint(err))
	require.Zero(t, count(t, db))
	require.NoError(t, steps("second"))
	require.Equal(t, 2, count(t, db))
}

func TestNamed_LeavesOthersAlone(t *testing.T) {
	t.Parallel()
	plain := errors.New("plain")
	require.Equal(t, plain, pg.Named(plain, map[string]error{"a": errors.New("x")}))
	require.NoError(t, pg.Named(nil, map[string]error{"a": errors.New("x")}))
	require.Empty(t, pg.Code(plain))
}

func TestInSnapshot_SeesOneMomentAndWritesNothing(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	require.NoError(t, db.InSnapshot(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		var before, after int
		require.NoError(t, tx.QueryRow(ctx, "SELECT count(*) FROM feed_cursor").Scan(&before))
		_, err := db.Pool().Exec(ctx, addRow, "meanwhile")
		require.NoError(t, err)
		require.NoError(t, tx.QueryRow(ctx, "SELECT count(*) FROM feed_cursor").Scan(&after))
		require.Equal(t, before, after)
		_, err = tx.Exec(ctx, addRow, "forbidden")
		require.Equal(t, "25006", pg.Code(err))
		return nil
	}))
}

func TestRole_HasItsTimeouts(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	for setting, want := range map[string]string{"lock_timeout": "5s", "statement_timeout": "30s", "idle_in_transaction_session_timeout": "10s"} {
		var got string
		require.NoError(t, db.Pool().QueryRow(t.Context(), "SELECT current_setting($1)", setting).Scan(&got))
		require.Equal(t, want, got, setting)
	}
}

func TestReady_RefusesAnOlderSchema(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	latest := migrations.Latest("intake")
	require.NoError(t, db.Ready(t.Context(), latest))
	var old *pg.SchemaTooOldError
	require.ErrorAs(t, db.Ready(t.Context(), latest+1), &old)
	require.Equal(t, latest, old.Have)

	other, err := pg.Open(t.Context(), pg.Config{URL: pgtest.AdminURL(t, "intake"), Schema: "grading"}, zap.NewNop())
	require.NoError(t, err)
	t.Cleanup(other.Close)
	require.ErrorAs(t, other.Ready(t.Context(), 1), &old)
	require.Zero(t, old.Have, "a schema never migrated")
}

func TestOpen_RefusesWhatWaitingDoesNotMend(t *testing.T) {
	t.Parallel()
	admin := pgtest.Empty(t)
	began := time.Now()
	_, err := pg.Open(t.Context(), pg.Config{URL: admin + "&dbname=no_such_database", Schema: "intake", StartTimeout: time.Minute}, zap.NewNop())
	require.Equal(t, "3D000", pg.Code(err))
	require.Less(t, time.Since(began), 30*time.Second)
	_, err = pg.Open(t.Context(), pg.Config{URL: "postgres://u:secret@/%zz", Schema: "intake"}, zap.NewNop())
	require.Error(t, err)
	require.NotContains(t, err.Error(), "secret")
	_, err = pg.Open(t.Context(), pg.Config{URL: admin}, zap.NewNop())
	require.ErrorContains(t, err, "schema")
}

func TestOpen_WaitsOnlySoLong(t *testing.T) {
	t.Parallel()
	_, err := pg.Open(t.Context(), pg.Config{
		URL: "postgres://u@/d?host=" + t.TempDir(), Schema: "intake", StartTimeout: 300 * time.Millisecond,
	}, zap.NewNop())
	require.ErrorContains(t, err, "did not answer")
	require.True(t, pg.IsUnavailable(err), "%v", err)
}

func TestPool_LendsNoMoreThanItHas(t *testing.T) {
	t.Parallel()
	db, err := pg.Open(t.Context(), pg.Config{URL: pgtest.URL(t, "intake"), Schema: "intake", MaxConns: 3}, zap.NewNop())
	require.NoError(t, err)
	t.Cleanup(db.Close)
	var group errgroup.Group
	for range 20 {
		group.Go(func() error {
			rows, err := db.Pool().Query(t.Context(), "SELECT generate_series(1, 50)")
			if err != nil {
				return err
			}
			defer rows.Close()
			if stat := db.Pool().Stat(); stat.TotalConns() > 3 || stat.AcquiredConns() > 3 {
				return fmt.Errorf("%d open, %d lent", stat.TotalConns(), stat.AcquiredConns())
			}
			for rows.Next() {
			}
			return rows.Err()
		})
	}
	require.NoError(t, group.Wait())
	require.Zero(t, db.Pool().Stat().AcquiredConns())

	first, err := db.Pool().Acquire(t.Context())
	require.NoError(t, err)
	for range 2 {
		conn, err := db.Pool().Acquire(t.Context())
		require.NoError(t, err)
		t.Cleanup(conn.Release)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	_, err = db.Pool().Acquire(ctx)
	require.ErrorIs(t, err, context.DeadlineExceeded)
	require.ErrorIs(t, db.Pool().QueryRow(ctx, "SELECT 1").Scan(new(int)), context.DeadlineExceeded)
	require.ErrorIs(t, db.Pool().SendBatch(ctx, &pgx.Batch{}).Close(), context.DeadlineExceeded)
	first.Release()
}

func TestPool_ReplacesDeadConnections(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	conn, err := db.Pool().Acquire(t.Context())
	require.NoError(t, err)
	_, err = conn.Exec(t.Context(), "SELECT pg_terminate_backend(pg_backend_pid())")
	require.True(t, pg.IsUnavailable(err), "%v", err)
	conn.Release()
	require.Zero(t, db.Pool().Stat().IdleConns(), "a dead connection is not kept")
	require.NoError(t, db.Pool().Ping(t.Context()))

	open, err := db.Pool().Acquire(t.Context())
	require.NoError(t, err)
	_, err = open.Exec(t.Context(), "BEGIN")
	require.NoError(t, err)
	open.Release()
	require.Zero(t, db.Pool().Stat().IdleConns(), "nor one left in a transaction")
}

func TestPool_RowsGiveTheirConnectionBackOnEveryPath(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	rows, err := db.Pool().Query(t.Context(), "SELECT nonsense")
	require.Error(t, err)
	rows.Close()
	require.False(t, rows.Next())
	require.Error(t, rows.Err())
	rows, err = db.Pool().Query(t.Context(), "SELECT 1")
	require.NoError(t, err)
	require.True(t, rows.Next())
	require.Error(t, rows.Scan(new(time.Time)))
	rows, err = db.Pool().Query(t.Context(), "SELECT 1")
	require.NoError(t, err)
	rows.Close()
	rows.Close()
	require.Error(t, db.Pool().QueryRow(t.Context(), "SELECT nonsense").Scan(new(int)))
	batch := &pgx.Batch{}
	batch.Queue("SELECT nonsense")
	require.Error(t, db.Pool().SendBatch(t.Context(), batch).Close())
	require.Zero(t, db.Pool().Stat().AcquiredConns())
	require.EqualValues(t, 1, db.Pool().Stat().TotalConns())
}

func TestPool_CloseWaitsForBorrowers(t *testing.T) {
	t.Parallel()
	db, err := pg.Open(t.Context(), pg.Config{URL: pgtest.URL(t, "intake"), Schema: "intake"}, zap.NewNop())
	require.NoError(t, err)
	conn, err := db.Pool().Acquire(t.Context())
	require.NoError(t, err)
	closed := make(chan struct{})
	go func() { db.Close(); close(closed) }()
	require.Eventually(t, func() bool { return errors.Is(db.Pool().Ping(t.Context()), pg.ErrClosed) }, 10*time.Second, time.Millisecond)
	select {
	case <-closed:
		t.Fatal("closed while a connection was lent")
	default:
	}
	conn.Release()
	<-closed
	db.Close()
}

func TestNotices_ReachOtherPools(t *testing.T) {
	t.Parallel()
	here := pgtest.New(t, "intake")
	there := pgtest.Open(t, pgtest.URL(t, "intake"), "intake")
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- here.Listen(ctx, "news") }()
	t.Cleanup(func() { stop(); require.NoError(t, <-ended) })
	require.Eventually(t, here.Listening, 10*time.Second, time.Millisecond)
	for range 3 {
		bell := here.Bell("news")
		other := here.Bell("something else")
		there.Announce("news")
		select {
		case <-bell:
		case <-time.After(10 * time.Second):
			t.Fatal("the notice did not arrive")
		}
		select {
		case <-other:
			t.Fatal("the wrong bell rang")
		default:
		}
	}
}
