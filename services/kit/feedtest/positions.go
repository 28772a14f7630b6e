package feedtest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

func parsePayload(t *testing.T, payload []byte) string {
	t.Helper()
	var text wrapperspb.StringValue
	require.NoError(t, proto.Unmarshal(payload, &text))
	return text.GetValue()
}

// Resumable reads the rest from every position and compares it with one reading of all.
func Resumable(t *testing.T, s Subject) {
	f := setup(t, s)
	const events = 12
	for i := range events / 2 {
		add(t, f.db, "barrels/1", fmt.Sprint(i), fmt.Sprint(i, "b"))
	}
	whole := read(t, f.client, &feedv1.WatchRequest{}, events)
	all := eventsOf(whole)
	for after := range int64(events) {
		rest := eventsOf(read(t, f.client, &feedv1.WatchRequest{
			LogId: whole[0].GetLogId(), AfterSequence: after, MaxEvents: 3,
		}, events-int(after)))
		require.Len(t, rest, events-int(after))
		for i, ev := range rest {
			require.True(t, proto.Equal(all[int(after)+i], ev), "event %d read from %d differs", ev.GetSequence(), after)
		}
	}
}

// Bookmarkable: a heartbeat carries the reader's own position and never one beyond what it was sent.
func Bookmarkable(t *testing.T, s Subject) {
	f := setup(t, s, feed.WithHeartbeat(20*time.Millisecond))
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{})
	require.NoError(t, err)
	var position int64
	// A busy machine may send several heartbeats before it sends an event.
	for heartbeats, round := 0, 0; heartbeats < 5 || position == 0; {
		answer, err := stream.Recv()
		require.NoError(t, err)
		require.Equal(t, position, answer.GetAfterSequence())
		require.Equal(t, position+int64(len(answer.GetEvents())), answer.GetThroughSequence())
		require.GreaterOrEqual(t, answer.GetHeadSequence(), answer.GetThroughSequence())
		position = answer.GetThroughSequence()
		if len(answer.GetEvents()) == 0 {
			heartbeats++
			round++
			add(t, f.db, "barrels/1", fmt.Sprint(round))
		}
	}
}

// refused opens a stream and returns how it is refused.
func refused(t *testing.T, client feedv1.FeedServiceClient, req *feedv1.WatchRequest) apierr.Details {
	t.Helper()
	stream, err := client.Watch(within(t), req)
	require.NoError(t, err)
	for {
		if _, err = stream.Recv(); err != nil {
			return apierr.Parse(err)
		}
	}
}

// Compacted: a position before the oldest kept event is refused and the oldest is named.
func Compacted(t *testing.T, s Subject) {
	f := setup(t, s)
	add(t, f.db, "barrels/1", "a", "b", "c", "d")
	require.NoError(t, feed.Number(within(t), f.db.Pool()))
	pgtest.Exec(t, s.Schema, "DELETE FROM event WHERE sequence <= 2")
	pgtest.Exec(t, s.Schema, "UPDATE feed_head SET oldest_sequence = 3")
	d := refused(t, f.client, &feedv1.WatchRequest{AfterSequence: 1})
	require.Equal(t, codes.OutOfRange, d.Code)
	require.Equal(t, "FEED_COMPACTED", d.Reason)
	require.Equal(t, map[string]string{"oldest_sequence": "3"}, d.Metadata)
	require.Len(t, eventsOf(read(t, f.client, &feedv1.WatchRequest{AfterSequence: 2}, 2)), 2, "the last usable position")
	_, err := feed.Verify(within(t), f.db)
	require.NoError(t, err, "what is kept can still be verified")
}

// CursorAhead: a position beyond the newest event means that the log went back in time.
func CursorAhead(t *testing.T, s Subject) {
	f := setup(t, s)
	add(t, f.db, "barrels/1", "a")
	d := refused(t, f.client, &feedv1.WatchRequest{AfterSequence: 2})
	require.Equal(t, codes.OutOfRange, d.Code)
	require.Equal(t, "FEED_CURSOR_AHEAD", d.Reason)
	require.Equal(t, map[string]string{"head_sequence": "1"}, d.Metadata)
}

// LogChanged: a position of another log is refused, also when the log is replaced under an open stream.
func LogChanged(t *testing.T, s Subject) {
	f := setup(t, s)
	add(t, f.db, "barrels/1", "a")
	logID := read(t, f.client, &feedv1.WatchRequest{}, 1)[0].GetLogId()
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{LogId: logID, AfterSequence: 1})
	require.NoError(t, err)
	_, err = stream.Recv()
	require.NoError(t, err, "the same log is accepted")
	pgtest.Exec(t, s.Schema, "UPDATE feed_head SET log_id = gen_random_uuid()")
	feed.Announce(f.db)
	for err == nil {
		_, err = stream.Recv()
	}
	for _, d := range []apierr.Details{apierr.Parse(err), refused(t, f.client, &feedv1.WatchRequest{LogId: logID})} {
		require.Equal(t, codes.FailedPrecondition, d.Code)
		require.Equal(t, "FEED_LOG_CHANGED", d.Reason)
		require.Equal(t, query[string](t, f.db, "SELECT log_id::text FROM feed_head"), d.Metadata["log_id"])
	}
}

// RestoredLogGoesOn: a log restored into another server remembers transactions that server has not come to yet.
func RestoredLogGoesOn(t *testing.T, s Subject) {
	f := setup(t, s)
	add(t, f.db, "barrels/1", "before")
	read(t, f.client, &feedv1.WatchRequest{}, 1)
	pgtest.Exec(t, s.Schema, "UPDATE feed_head SET numbered_below = (pg_snapshot_xmax(pg_current_snapshot())::text::bigint + 1000000)::text::xid8")
	add(t, f.db, "barrels/1", "after")
	require.Len(t, eventsOf(read(t, f.client, &feedv1.WatchRequest{AfterSequence: 1}, 1)), 1)
}

// Drain ends an idle stream within a second, with a code that sends the reader elsewhere.
func Drain(t *testing.T, s Subject) {
	f := setup(t, s)
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{})
	require.NoError(t, err)
	_, err = stream.Recv()
	require.NoError(t, err)
	began := time.Now()
	f.server.Drain()
	f.server.Drain()
	_, err = stream.Recv()
	require.Equal(t, codes.Unavailable, apierr.Parse(err).Code)
	require.Less(t, time.Since(began), time.Second)
}

// otherProcess commits through a pool of its own, as another replica would: only the database can carry the news.
func otherProcess(t *testing.T, s Subject) *pg.DB {
	t.Helper()
	return pgtest.Open(t, pgtest.URL(t, s.Schema), s.Schema)
}

func listen(t *testing.T, f fixture) {
	t.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- f.server.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
	})
	eventually(t, f.db.Listening, "the listener connects")
}

// NoticeWakes: with polling out of the question, news of another process arrives by notice.
func NoticeWakes(t *testing.T, s Subject) {
	f := setup(t, s, feed.WithPoll(time.Hour))
	listen(t, f)
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{})
	require.NoError(t, err)
	_, err = stream.Recv()
	require.NoError(t, err)
	other := otherProcess(t, s)
	for i := range 3 {
		add(t, other, "barrels/1", fmt.Sprint(i))
		answer, err := stream.Recv()
		require.NoError(t, err)
		require.Len(t, answer.GetEvents(), 1)
	}
}

// ListenerKilled: without the listener's connection news arrives within the polling interval, and the listener returns.
func ListenerKilled(t *testing.T, s Subject) {
	f := setup(t, s, feed.WithPoll(50*time.Millisecond))
	listen(t, f)
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{})
	require.NoError(t, err)
	_, err = stream.Recv()
	require.NoError(t, err)
	pgtest.Exec(t, s.Schema, "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND application_name LIKE '% listener'")
	eventually(t, func() bool { return !f.db.Listening() }, "the listener notices")
	add(t, otherProcess(t, s), "barrels/1", "a")
	answer, err := stream.Recv()
	require.NoError(t, err)
	require.Len(t, answer.GetEvents(), 1)
	eventually(t, f.db.Listening, "the listener comes back")
}

// SlowReaderHoldsNoConnection: a reader that does not read blocks its stream and nothing else.
func SlowReaderHoldsNoConnection(t *testing.T, s Subject) {
	f := setup(t, s)
	const events = 400
	require.NoError(t, f.db.InTx(within(t), func(ctx context.Context, tx pgx.Tx) error {
		big := wrapperspb.String(strings.Repeat("honey ", 1500))
		facts := make([]feed.Fact, events)
		for i := range facts {
			facts[i] = feed.Fact{Aggregate: "barrels/1", Payload: big}
		}
		for _, fact := range facts {
			if err := feed.Append(ctx, tx, time.Now(), feed.Meta{}, fact); err != nil {
				return err
			}
		}
		return nil
	}))
	add(t, f.db, "barrels/1", "last")
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{MaxEvents: 1}, noLimit)
	require.NoError(t, err)
	first, err := stream.Recv()
	require.NoError(t, err)
	require.Len(t, first.GetEvents(), events, "one transaction is never split, whatever the limit")
	slow, err := f.client.Watch(within(t), &feedv1.WatchRequest{}, noLimit)
	require.NoError(t, err)
	eventually(t, func() bool {
		stat := f.db.Pool().Stat()
		return stat.TotalConns() > 0 && stat.AcquiredConns() == 0
	}, "nobody holds a connection while the slow reader is asleep")
	got := 0
	for got < events+1 {
		answer, err := slow.Recv()
		require.NoError(t, err)
		got += len(answer.GetEvents())
	}
}
