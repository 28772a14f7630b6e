package idem_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

var now = time.Date(2026, 9, 14, 21, 0, 0, 0, time.UTC)

func request() *feedv1.SkipFeedEventRequest {
	return &feedv1.SkipFeedEventRequest{RequestId: uuid.NewString(), Name: "feedSources/stock", Sequence: 4, Reason: "entered twice"}
}

func dock(ctx context.Context) context.Context {
	return access.With(ctx, access.Actor{Login: "users/dock1"})
}

type scene struct {
	db   *pg.DB
	runs atomic.Int32
}

func setup(t *testing.T) *scene {
	t.Helper()
	return &scene{db: pgtest.New(t, "intake")}
}

// do inserts a row each time it really runs; the row count tells how often the change was made.
func (s *scene) do(ctx context.Context, req idem.Request, fail error) (*feedv1.FeedSource, error) {
	return idem.Do(ctx, s.db, clock.NewFake(now), req, func(ctx context.Context, tx pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		run := s.runs.Add(1)
		_, err := tx.Exec(ctx, "INSERT INTO feed_cursor (consumer, source) VALUES ($1, 'x')", uuid.NewString())
		if err != nil || fail != nil {
			return nil, nil, errors.Join(err, fail)
		}
		return &feedv1.FeedSource{Name: "feedSources/stock", Sequence: int64(run)},
			[]feed.Fact{{Aggregate: "barrels/1", Payload: wrapperspb.Int64(int64(run))}}, nil
	})
}

func (s *scene) rows(t *testing.T) (n int) {
	t.Helper()
	require.NoError(t, s.db.Pool().QueryRow(t.Context(), "SELECT count(*) FROM feed_cursor").Scan(&n))
	return n
}

func TestDo_RepeatGetsTheFirstAnswer(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	first, err := s.do(dock(t.Context()), req, nil)
	require.NoError(t, err)
	again, err := s.do(dock(t.Context()), proto.CloneOf(req), nil)
	require.NoError(t, err)
	require.True(t, proto.Equal(first, again))
	require.EqualValues(t, 1, s.runs.Load())
	require.Equal(t, 1, s.rows(t))

	var actor, requestID string
	var events int
	var recorded time.Time
	require.NoError(t, s.db.Pool().QueryRow(t.Context(),
		"SELECT count(*), min(actor), min(request_id), min(record_time) FROM event_pending").Scan(&events, &actor, &requestID, &recorded))
	require.Equal(t, 1, events)
	require.Equal(t, "users/dock1", actor)
	require.Equal(t, req.GetRequestId(), requestID)
	require.True(t, now.Equal(recorded))
}

func TestStored_KnowsWhatDoAnswered(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	none, known, err := idem.Stored[*feedv1.FeedSource](dock(t.Context()), s.db, req)
	require.NoError(t, err)
	require.False(t, known)
	require.Nil(t, none)
	_, err = s.do(dock(t.Context()), req, errors.New("not yet"))
	require.Error(t, err)
	_, known, err = idem.Stored[*feedv1.FeedSource](dock(t.Context()), s.db, req)
	require.NoError(t, err)
	require.False(t, known, "a failed call leaves no trace")

	first, err := s.do(dock(t.Context()), req, nil)
	require.NoError(t, err)
	again, known, err := idem.Stored[*feedv1.FeedSource](dock(t.Context()), s.db, proto.CloneOf(req))
	require.NoError(t, err)
	require.True(t, known)
	require.True(t, proto.Equal(first, again))

	var reused *idem.ReusedError
	_, _, err = idem.Stored[*feedv1.FeedSource](access.With(t.Context(), access.Actor{Login: "users/dock2"}), s.db, req)
	require.ErrorAs(t, err, &reused, "nobody else's answer is given away")
	other := proto.CloneOf(req)
	other.Reason = "another"
	_, _, err = idem.Stored[*feedv1.FeedSource](dock(t.Context()), s.db, other)
	require.ErrorAs(t, err, &reused)
	var bad *idem.IDError
	_, _, err = idem.Stored[*feedv1.FeedSource](dock(t.Context()), s.db, &feedv1.SkipFeedEventRequest{RequestId: "1"})
	require.ErrorAs(t, err, &bad)
}

// A look into the ledger waits for nobody: a request that is being worked on has no answer yet.
func TestStored_DoesNotWait(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	_, err := idem.Do(dock(t.Context()), s.db, clock.NewFake(now), req, func(ctx context.Context, _ pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		_, known, err := idem.Stored[*feedv1.FeedSource](ctx, s.db, proto.CloneOf(req))
		require.False(t, known)
		return &feedv1.FeedSource{}, nil, err
	})
	require.NoError(t, err)
}

func TestDo_AnotherRequestRuns(t *testing.T) {
	t.Parallel()
	s := setup(t)
	for range 3 {
		_, err := s.do(dock(t.Context()), request(), nil)
		require.NoError(t, err)
	}
	require.Equal(t, 3, s.rows(t))
}

func TestDo_ConcurrentRepeatsRunOnce(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	var group errgroup.Group
	for range 16 {
		group.Go(func() error {
			answer, err := s.do(dock(t.Context()), proto.CloneOf(req), nil)
			if err == nil && answer.GetSequence() != 1 {
				err = errors.New("another answer than the first")
			}
			return err
		})
	}
	require.NoError(t, group.Wait())
	require.EqualValues(t, 1, s.runs.Load(), "the others waited for the first")
	require.Equal(t, 1, s.rows(t))
}

func TestDo_ReusedIDIsRefused(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	_, err := s.do(dock(t.Context()), req, nil)
	require.NoError(t, err)

	otherBody := proto.CloneOf(req)
	otherBody.Sequence = 5
	otherMethod := &feedv1.RetryFeedSourceRequest{RequestId: req.GetRequestId(), Name: req.GetName()}
	cases := map[string]func() error{
		"body":   func() error { _, err := s.do(dock(t.Context()), otherBody, nil); return err },
		"method": func() error { _, err := s.do(dock(t.Context()), otherMethod, nil); return err },
		"caller": func() error {
			_, err := s.do(access.With(t.Context(), access.Actor{Login: "users/lab1"}), req, nil)
			return err
		},
	}
	for name, call := range cases {
		err := call()
		var reused *idem.ReusedError
		require.ErrorAs(t, err, &reused, name)
		require.Equal(t, "REQUEST_ID_REUSED", apierr.Parse(apierr.From(err)).Reason)
		require.Equal(t, map[string]string{"request_id": req.GetRequestId()}, apierr.Parse(apierr.From(err)).Metadata)
	}
	require.Equal(t, 1, s.rows(t))
}

func TestDo_FailureLeavesNoTrace(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	refusal := errors.New("the ticket is closed")
	_, err := s.do(dock(t.Context()), req, refusal)
	require.ErrorIs(t, err, refusal)
	require.Zero(t, s.rows(t))
	_, err = s.do(dock(t.Context()), req, nil)
	require.NoError(t, err, "the same id may be tried again")
	require.Equal(t, 1, s.rows(t))
}

func TestDo_ConflictRunsAgain(t *testing.T) {
	t.Parallel()
	s := setup(t)
	var runs int
	answer, err := idem.Do(dock(t.Context()), s.db, clock.System, request(), func(ctx context.Context, tx pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		if runs++; runs < 3 {
			return nil, nil, &pgconn.PgError{Code: "40001"}
		}
		_, err := tx.Exec(ctx, "INSERT INTO feed_cursor (consumer, source) VALUES ('a', 'x')")
		return &feedv1.FeedSource{Sequence: int64(runs)}, nil, err
	})
	require.NoError(t, err)
	require.EqualValues(t, 3, answer.GetSequence())
	require.Equal(t, 1, s.rows(t))
}

func TestDo_LostConnectionThenRepeat(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	_, err := idem.Do(dock(t.Context()), s.db, clock.System, req, func(ctx context.Context, tx pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		_, err := tx.Exec(ctx, "SELECT pg_terminate_backend(pg_backend_pid())")
		return nil, nil, err
	})
	require.True(t, pg.IsUnavailable(err), "%v", err)
	_, err = s.do(dock(t.Context()), req, nil)
	require.NoError(t, err, "the next connection is a fresh one")
	require.Equal(t, 1, s.rows(t))
}

func TestDo_IDMustBeAUUID(t *testing.T) {
	t.Parallel()
	s := setup(t)
	req := request()
	req.RequestId = "42"
	_, err := s.do(dock(t.Context()), req, nil)
	var bad *idem.IDError
	require.ErrorAs(t, err, &bad)
	require.Equal(t, "request_id", apierr.Parse(apierr.From(err)).Faults[0].Field)
	require.Zero(t, s.runs.Load())
}

func TestDo_BadFactRollsBack(t *testing.T) {
	t.Parallel()
	s := setup(t)
	_, err := idem.Do(dock(t.Context()), s.db, clock.System, request(), func(ctx context.Context, tx pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		_, err := tx.Exec(ctx, "INSERT INTO feed_cursor (consumer, source) VALUES ('a', 'x')")
		return &feedv1.FeedSource{}, []feed.Fact{{Payload: wrapperspb.Bool(true)}}, err
	})
	require.ErrorContains(t, err, "aggregate")
	require.Zero(t, s.rows(t))
}

// shared is do by the shared path; it reads a version, and changes only if the version is still the same.
func (s *scene) shared(ctx context.Context, req idem.Request, meanwhile func()) (*feedv1.FeedSource, error) {
	return idem.DoShared(ctx, s.db, clock.NewFake(now), req, func(ctx context.Context) (idem.Plan[*feedv1.FeedSource], error) {
		run := s.runs.Add(1)
		var version int64
		if err := s.db.Pool().QueryRow(ctx, "SELECT sequence FROM feed_cursor WHERE consumer = 'drum'").Scan(&version); err != nil {
			return idem.Plan[*feedv1.FeedSource]{}, err
		}
		if meanwhile != nil && run == 1 {
			meanwhile()
		}
		return idem.Plan[*feedv1.FeedSource]{
			Answer: &feedv1.FeedSource{Sequence: version + 1},
			Facts:  []feed.Fact{{Aggregate: "drums/1", Payload: wrapperspb.Int64(version + 1)}},
			Key:    "drums/1",
			Write: func(b *pgx.Batch) {
				const move = "UPDATE feed_cursor SET sequence = $1 + 1 WHERE consumer = 'drum' AND sequence = $1"
				b.Queue(move, version).Exec(func(tag pgconn.CommandTag) error {
					if tag.RowsAffected() == 0 {
						return pg.ErrStale
					}
					return nil
				})
			},
		}, nil
	})
}

func setupDrum(t *testing.T) *scene {
	t.Helper()
	s := setup(t)
	_, err := s.db.Pool().Exec(t.Context(), "INSERT INTO feed_cursor (consumer, source) VALUES ('drum', 'x')")
	require.NoError(t, err)
	return s
}

func (s *scene) drum(t *testing.T) (version, facts int) {
	t.Helper()
	const q = "SELECT sequence, (SELECT count(*) FROM event_pending) FROM feed_cursor WHERE consumer = 'drum'"
	require.NoError(t, s.db.Pool().QueryRow(t.Context(), q).Scan(&version, &facts))
	return version, facts
}

func TestDoShared_RepeatGetsTheFirstAnswer(t *testing.T) {
	t.Parallel()
	s := setupDrum(t)
	req := request()
	var group errgroup.Group
	for range 16 {
		group.Go(func() error {
			answer, err := s.shared(dock(t.Context()), proto.CloneOf(req), nil)
			if err == nil && answer.GetSequence() != 1 {
				err = errors.New("another answer than the first")
			}
			return err
		})
	}
	require.NoError(t, group.Wait())
	version, facts := s.drum(t)
	require.Equal(t, 1, version, "the change was made once")
	require.Equal(t, 1, facts)
	changed := proto.CloneOf(req)
	changed.Reason = "another body"
	_, err := s.shared(dock(t.Context()), changed, nil)
	var reused *idem.ReusedError
	require.ErrorAs(t, err, &reused)
}

func TestDoShared_DecidesAnewWhenStale(t *testing.T) {
	t.Parallel()
	s := setupDrum(t)
	answer, err := s.shared(dock(t.Context()), request(), func() {
		_, err := s.db.Pool().Exec(t.Context(), "UPDATE feed_cursor SET sequence = 10 WHERE consumer = 'drum'")
		require.NoError(t, err)
	})
	require.NoError(t, err)
	require.EqualValues(t, 11, answer.GetSequence())
	require.EqualValues(t, 2, s.runs.Load())
}

func TestDoShared_ManyCallersOfOneAggregate(t *testing.T) {
	t.Parallel()
	s := setupDrum(t)
	var group errgroup.Group
	var made atomic.Int32
	for range 20 {
		group.Go(func() error {
			_, err := s.shared(dock(t.Context()), request(), nil)
			if err == nil {
				made.Add(1)
			}
			if errors.Is(err, pg.ErrConflict) {
				return nil
			}
			return err
		})
	}
	require.NoError(t, group.Wait())
	version, facts := s.drum(t)
	require.EqualValues(t, made.Load(), version, "every success counts once, every refusal not at all")
	require.Equal(t, version, facts)
	require.Positive(t, version)
}

func TestDoShared_FailedDecisionLeavesNoTrace(t *testing.T) {
	t.Parallel()
	s := setup(t) // no drum to decide on
	_, err := s.shared(dock(t.Context()), request(), nil)
	require.ErrorIs(t, err, pgx.ErrNoRows)
	var rows int
	require.NoError(t, s.db.Pool().QueryRow(t.Context(), "SELECT count(*) FROM request_ledger").Scan(&rows))
	require.Zero(t, rows)
}
