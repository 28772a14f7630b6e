package feed_test

import (
	"context"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedtest"
	"barrelhead.example/services/kit/pgtest"
)

// BenchmarkCatchUp numbers, serves and applies a backlog of single-event transactions, b.N events in all, with one insert
// each: what a service does that was away.
func BenchmarkCatchUp(b *testing.B) {
	dock, db := pgtest.New(b, "intake"), pgtest.New(b, "inventory")
	_, err := dock.Pool().Exec(b.Context(), `INSERT INTO event_pending (transaction, event_id, aggregate, occur_time, record_time, actor, request_id, type, payload)
		SELECT n::text::xid8, gen_random_uuid(), 'barrels/1', now(), now(), 'users/dock1', '', 'google.protobuf.StringValue', '\x0a0c6e6574203634322e35204c42' FROM generate_series(1, $1) n`, b.N)
	require.NoError(b, err)
	done := make(chan struct{})
	c := &feed.Consumer{
		Name: "stock", Source: "intake", DB: db, Client: feedtest.Serve(b, feed.NewServer(dock)),
		Apply: func(ctx context.Context, tx pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
			_, err := tx.Exec(ctx, "INSERT INTO feed_skipped (consumer, log_id, sequence, reason, actor, skip_time) VALUES ('b', 'b', $1, 'bench', '', $2)", ev.Sequence, ev.OccurTime)
			if ev.Sequence == int64(b.N) {
				close(done)
			}
			return nil, err
		},
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(b.Context()))
	ended := make(chan error, 1)
	b.ResetTimer()
	go func() { ended <- c.Run(ctx) }()
	select {
	case <-done:
	case <-time.After(2 * time.Minute):
		b.Fatal(feed.Halted(b.Context(), db.Pool()))
	}
	b.StopTimer()
	stop()
	require.NoError(b, <-ended)
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "events/s")
}
