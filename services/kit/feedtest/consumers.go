package feedtest

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap/zaptest"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

var noLimit = grpc.MaxCallRecvMsgSize(64 << 20)

// effect is the read table of the suite's consumers: a second application of an event violates its primary key.
const effect = "CREATE TABLE effect (sequence bigint PRIMARY KEY, content text NOT NULL)"

// reader is a second database of the same schema, following the fixture's feed.
type reader struct {
	db  *pg.DB
	url string
}

func newReader(t *testing.T, s Subject) reader {
	t.Helper()
	db := pgtest.New(t, s.Schema)
	pgtest.Exec(t, s.Schema, effect)
	pgtest.Exec(t, s.Schema, fmt.Sprintf("GRANT SELECT, INSERT, DELETE ON effect TO %s_app", s.Schema))
	return reader{db, pgtest.URL(t, s.Schema)}
}

func (r reader) consumer(t *testing.T, client feedv1.FeedServiceClient, apply func(context.Context, pgx.Tx, feed.Event) ([]feed.Fact, error)) *feed.Consumer {
	return &feed.Consumer{
		Name: "suite", Source: "neighbour", DB: r.db, Client: client, Apply: apply, ReadTables: []string{"effect"},
		FirstPause: 4 * time.Millisecond, Log: zaptest.NewLogger(t),
	}
}

func record(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
	text, ok := ev.Payload.(*wrapperspb.StringValue)
	if !ok {
		return nil, fmt.Errorf("unexpected payload %T", ev.Payload)
	}
	_, err := tx.Exec(ctx, "INSERT INTO effect (sequence, content) VALUES ($1, $2)", ev.Sequence, text.GetValue())
	return nil, err
}

// start runs the consumer until the returned function, or the end of the test, stops it.
func start(t *testing.T, c *feed.Consumer) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	var stopped atomic.Bool
	stop = func() {
		if stopped.CompareAndSwap(false, true) {
			cancel()
			require.NoError(t, <-ended)
		}
	}
	t.Cleanup(stop)
	return stop
}

func (r reader) effects(t *testing.T) int64 {
	t.Helper()
	return query[int64](t, r.db, "SELECT count(*) FROM effect")
}

func (r reader) position(t *testing.T) int64 {
	t.Helper()
	return query[int64](t, r.db, "SELECT coalesce((SELECT sequence FROM feed_cursor WHERE consumer = 'suite'), 0)")
}

func (r reader) haltedAt(t *testing.T) int64 {
	t.Helper()
	return query[int64](t, r.db, "SELECT coalesce((SELECT halted_sequence FROM feed_cursor WHERE consumer = 'suite'), 0)")
}

func (r reader) haltReason(t *testing.T) string {
	t.Helper()
	return query[string](t, r.db, "SELECT coalesce((SELECT halted_reason FROM feed_cursor WHERE consumer = 'suite'), '')")
}

// TwoReplicas of a consumer take in each event once.
func TwoReplicas(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	second := reader{db: pgtest.Open(t, r.url, s.Schema)}
	start(t, r.consumer(t, f.client, record))
	start(t, second.consumer(t, f.client, record))
	const events = 60
	for i := range events {
		add(t, f.db, "barrels/1", fmt.Sprint(i))
	}
	eventually(t, func() bool { return r.position(t) == events }, "all events are taken in")
	require.EqualValues(t, events, r.effects(t))
	require.Zero(t, r.haltedAt(t), "a second application would have violated the key and halted the source")
}

// CrashBetweenApplyAndCommit: the connection dies when everything is applied and nothing committed.
func CrashBetweenApplyAndCommit(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	var crashes atomic.Int32
	start(t, r.consumer(t, f.client, func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		facts, err := record(ctx, tx, ev)
		if err == nil && ev.Sequence == 2 && crashes.Add(1) <= 2 {
			_, err = tx.Exec(ctx, "SELECT pg_terminate_backend(pg_backend_pid())")
		}
		return facts, err
	}))
	add(t, f.db, "barrels/1", "a", "b", "c")
	eventually(t, func() bool { return r.position(t) == 3 }, "the events are taken in after all")
	require.EqualValues(t, 3, crashes.Load(), "two crashes and one success")
	require.EqualValues(t, 3, r.effects(t))
}

// PoisonHaltsThenSkips: what can never be applied stops the source before it, visibly, until an operator decides.
func PoisonHaltsThenSkips(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	var poisonous atomic.Bool
	poisonous.Store(true)
	var tries atomic.Int32
	c := r.consumer(t, f.client, func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		if ev.Sequence == 4 && poisonous.Load() {
			tries.Add(1)
			panic("no such variety")
		}
		return record(ctx, tx, ev)
	})
	start(t, c)
	for i := range 7 {
		add(t, f.db, "barrels/1", fmt.Sprint(i))
	}
	eventually(t, func() bool { return r.haltedAt(t) == 4 }, "the source halts")
	require.EqualValues(t, 3, r.position(t), "everything before is in")
	require.EqualValues(t, 3, r.effects(t), "nothing after")
	require.Contains(t, r.haltReason(t), "no such variety")

	before := tries.Load()
	require.NoError(t, c.Retry(within(t)))
	eventually(t, func() bool { return tries.Load() > before && r.haltedAt(t) == 4 }, "it is tried again and halts again")

	var wrong *feed.NotHaltedError
	require.ErrorAs(t, c.Skip(within(t), 5, "not this one", "users/office1"), &wrong)
	require.EqualValues(t, 4, wrong.Sequence)
	require.NoError(t, c.Skip(within(t), 4, "entered twice at the dock", "users/office1"))
	eventually(t, func() bool { return r.position(t) == 7 }, "the rest follows")
	require.EqualValues(t, 6, r.effects(t))
	require.Equal(t, "4 entered twice at the dock users/office1",
		query[string](t, r.db, "SELECT sequence || ' ' || reason || ' ' || actor FROM feed_skipped"))
	require.ErrorAs(t, c.Skip(within(t), 8, "nothing halted", "users/office1"), &wrong)
	require.Zero(t, wrong.Sequence)
}

// UndecodableHalts: bytes that are no message of their type are not passed over.
func UndecodableHalts(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	add(t, f.db, "barrels/1", "a")
	pgtestInsert(t, f, "google.protobuf.StringValue", []byte{0x0a, 0xff})
	start(t, r.consumer(t, f.client, record))
	eventually(t, func() bool { return r.haltedAt(t) == 2 }, "the source halts")
	require.Contains(t, r.haltReason(t), "cannot be decoded")
}

// UnknownTypeIsPassed: a newer neighbour may tell what this program has no use for yet.
func UnknownTypeIsPassed(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	pgtestInsert(t, f, "barrelhead.future.v9.HiveTalked", []byte{1, 2, 3})
	add(t, f.db, "barrels/1", "b")
	start(t, r.consumer(t, f.client, record))
	eventually(t, func() bool { return r.position(t) == 2 }, "both are passed")
	require.EqualValues(t, 1, r.effects(t))
}

// pgtestInsert appends an event no writer of this program could make.
func pgtestInsert(t *testing.T, f fixture, typeName string, payload []byte) {
	t.Helper()
	_, err := f.db.Pool().Exec(within(t), `INSERT INTO event_pending
		(event_id, aggregate, occur_time, record_time, actor, request_id, type, payload)
		VALUES (gen_random_uuid(), 'barrels/1', now(), now(), '', '', $1, $2)`, typeName, payload)
	require.NoError(t, err)
	feed.Announce(f.db)
}

// NotYetWaits: what needs another feed's fact is tried until it can be applied, without a halt; what comes before it does
// not wait with it.
func NotYetWaits(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	var arrived atomic.Bool
	var tries atomic.Int32
	add(t, f.db, "barrels/1", "a", "b", "c", "d")
	start(t, r.consumer(t, f.client, func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		if ev.Sequence == 3 && !arrived.Load() {
			tries.Add(1)
			return nil, fmt.Errorf("the barrel is unknown: %w", feed.ErrNotYet)
		}
		return record(ctx, tx, ev)
	}))
	eventually(t, func() bool { return tries.Load() > 8 }, "it is tried again and again")
	require.EqualValues(t, 2, r.position(t), "what comes before is in")
	arrived.Store(true)
	eventually(t, func() bool { return r.position(t) == 4 }, "it is applied once possible")
	require.Zero(t, r.haltedAt(t))
}

// ReplacedLogHaltsThenRebuilds: after the neighbour was restored from an older copy nothing is guessed; an operator
// rebuilds.
func ReplacedLogHaltsThenRebuilds(t *testing.T, s Subject) {
	f := setup(t, s)
	schemaURL := pgtest.AdminURL(t, s.Schema) // before the reader's database becomes the newest
	r := newReader(t, s)
	c := r.consumer(t, f.client, record)
	stop := start(t, c)
	add(t, f.db, "barrels/1", "a", "b", "c")
	eventually(t, func() bool { return r.position(t) == 3 }, "the events are taken in")
	stop()
	execAt(t, schemaURL, s.Schema, "DELETE FROM event WHERE sequence = 3")
	execAt(t, schemaURL, s.Schema, "UPDATE feed_head SET log_id = gen_random_uuid(), head_sequence = 2, head_chain = (SELECT chain FROM event WHERE sequence = 2)")
	start(t, c)
	eventually(t, func() bool { return r.haltedAt(t) == 4 }, "the source halts")
	require.Contains(t, r.haltReason(t), "FEED_LOG_CHANGED")
	require.NoError(t, c.Rebuild(within(t)))
	require.EqualValues(t, 2, r.effects(t))
	add(t, f.db, "barrels/1", "another third")
	eventually(t, func() bool { return r.position(t) == 3 }, "the new log is followed")
	require.Equal(t, "another third", query[string](t, r.db, "SELECT content FROM effect WHERE sequence = 3"))
}

func execAt(t *testing.T, url, schema, sql string) {
	t.Helper()
	conn, err := pgx.Connect(within(t), url)
	require.NoError(t, err)
	_, err = conn.Exec(within(t), "SET search_path = "+schema)
	require.NoError(t, err)
	_, err = conn.Exec(within(t), sql)
	require.NoError(t, err, sql)
	require.NoError(t, conn.Close(within(t)))
}

const effectDigest = "SELECT coalesce(md5(string_agg(sequence || content, ',' ORDER BY sequence)), 'empty') FROM effect"

// RebuildIsIdentical: read tables made anew from the feed come out as they were, without a second round of facts.
func RebuildIsIdentical(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	var rebuilt atomic.Int32
	c := r.consumer(t, f.client, func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		if feed.Rebuilding(ctx) {
			rebuilt.Add(1)
		}
		_, err := record(ctx, tx, ev)
		return []feed.Fact{{Aggregate: "lots/1", Payload: wrapperspb.String("seen")}}, err
	})
	c.MaxEvents = 4
	start(t, c)
	for i := range 10 {
		add(t, f.db, "barrels/1", fmt.Sprint(i))
	}
	eventually(t, func() bool { return r.position(t) == 10 }, "the events are taken in")
	before := query[string](t, r.db, effectDigest)
	_, err := r.db.Pool().Exec(within(t), "DELETE FROM effect WHERE sequence IN (3, 4)")
	require.NoError(t, err)
	require.NotEqual(t, before, query[string](t, r.db, effectDigest))
	var last int64
	require.NoError(t, c.RebuildWith(within(t), func(done, of int64) {
		require.Greater(t, done, last)
		require.EqualValues(t, 10, of)
		last = done
	}))
	require.EqualValues(t, 10, last)
	require.Equal(t, before, query[string](t, r.db, effectDigest))
	require.EqualValues(t, 10, rebuilt.Load())
	add(t, f.db, "barrels/1", "after")
	eventually(t, func() bool { return r.position(t) == 11 }, "the consumer goes on")
	require.NoError(t, feed.Number(within(t), r.db.Pool()))
	require.EqualValues(t, 11, query[int64](t, r.db, "SELECT count(*) FROM event"), "one fact per event, none for the rebuild")
}

// lossy leaves out the second page of every stream.
type lossy struct{ feedv1.FeedServiceClient }

type lossyStream struct {
	grpc.ServerStreamingClient[feedv1.WatchResponse]
	withEvents int
}

func (l lossy) Watch(ctx context.Context, in *feedv1.WatchRequest, opts ...grpc.CallOption) (grpc.ServerStreamingClient[feedv1.WatchResponse], error) {
	stream, err := l.FeedServiceClient.Watch(ctx, in, opts...)
	return &lossyStream{ServerStreamingClient: stream}, err
}

func (l *lossyStream) Recv() (*feedv1.WatchResponse, error) {
	for {
		answer, err := l.ServerStreamingClient.Recv()
		if err != nil || len(answer.GetEvents()) == 0 {
			return answer, err
		}
		if l.withEvents++; l.withEvents != 2 {
			return answer, nil
		}
	}
}

// GapIsRefused: a stream that leaves something out is opened anew; nothing is passed over.
func GapIsRefused(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	const events = 9
	for i := range events {
		add(t, f.db, "barrels/1", fmt.Sprint(i))
	}
	c := r.consumer(t, lossy{f.client}, record)
	c.MaxEvents = 1
	start(t, c)
	eventually(t, func() bool { return r.position(t) == events }, "every stream brings one page at least")
	require.EqualValues(t, events, r.effects(t))
	require.Zero(t, r.haltedAt(t))
}

// FactsOfAConsumer are recorded with the event's request id, in the service's own name, or not at all.
func FactsOfAConsumer(t *testing.T, s Subject) {
	f := setup(t, s)
	r := newReader(t, s)
	var failures atomic.Int32
	start(t, r.consumer(t, f.client, func(_ context.Context, _ pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
		if ev.Sequence == 2 && failures.Add(1) == 1 {
			return nil, status.Error(codes.Unavailable, "not just now")
		}
		return []feed.Fact{{Aggregate: "lots/" + fmt.Sprint(ev.Sequence), Payload: wrapperspb.String("made"), OccurTime: ev.OccurTime}}, nil
	}))
	add(t, f.db, "barrels/1", "a", "b")
	own := Serve(t, s.server(r.db))
	got := eventsOf(read(t, own, &feedv1.WatchRequest{}, 2))
	require.Len(t, got, 2)
	for i, ev := range got {
		require.Equal(t, fmt.Sprintf("lots/%d", i+1), ev.GetAggregate())
		require.Equal(t, s.Schema, ev.GetActor())
		require.Equal(t, "r", ev.GetRequestId())
		require.EqualValues(t, 2, ev.GetTransactionLastSequence(), "facts of one page are one transaction")
		require.Equal(t, "made", textOf(t, ev))
	}
}
