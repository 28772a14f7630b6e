package feed_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedtest"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

func appendOne(t *testing.T, db *pg.DB, fact feed.Fact) error {
	t.Helper()
	return db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{}, fact)
	})
}

func TestAppend_RefusesHalfAFact(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	require.ErrorContains(t, appendOne(t, db, feed.Fact{Payload: wrapperspb.Bool(true)}), "aggregate")
	require.ErrorContains(t, appendOne(t, db, feed.Fact{Aggregate: "barrels/1"}), "payload")
	require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{})
	}), "no facts, no events")
}

func TestConsumer_NeedsItsFields(t *testing.T) {
	t.Parallel()
	require.Error(t, (&feed.Consumer{Name: "stock"}).Run(t.Context()))
}

// gathered reads all samples as "name{labels} value".
func gathered(t *testing.T, db *pg.DB) map[string]float64 {
	t.Helper()
	registry := prometheus.NewPedanticRegistry()
	require.NoError(t, registry.Register(feed.Metrics(db)))
	families, err := registry.Gather()
	require.NoError(t, err)
	all := map[string]float64{}
	for _, family := range families {
		for _, m := range family.GetMetric() {
			name := family.GetName()
			for _, label := range m.GetLabel() {
				name += "," + label.GetValue()
			}
			all[name] = m.GetGauge().GetValue()
		}
	}
	return all
}

func TestMetricsAndStatus_TellOfAHalt(t *testing.T) {
	t.Parallel()
	dock, db := pgtest.New(t, "intake"), pgtest.New(t, "inventory")
	require.NoError(t, feed.Halted(t.Context(), db.Pool()), "nothing runs, nothing is halted")
	for i := range 3 {
		require.NoError(t, appendOne(t, dock, feed.Fact{Aggregate: fmt.Sprint("barrels/", i), Payload: wrapperspb.Int64(int64(i))}))
	}
	c := &feed.Consumer{
		Name: "stock", Source: "intake", DB: db, Client: feedtest.Serve(t, feed.NewServer(dock)), FirstPause: 4 * time.Millisecond,
		Apply: func(_ context.Context, _ pgx.Tx, ev feed.Event) ([]feed.Fact, error) {
			if ev.Sequence == 2 {
				return nil, errors.New("no such drum")
			}
			return []feed.Fact{{Aggregate: "stock/1", Payload: wrapperspb.Bool(true)}}, nil
		},
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	t.Cleanup(func() { stop(); require.NoError(t, <-ended) })
	require.Eventually(t, func() bool { return feed.Halted(t.Context(), db.Pool()) != nil }, 30*time.Second, 5*time.Millisecond)
	require.ErrorContains(t, feed.Halted(t.Context(), db.Pool()), "feed stock of intake is halted at event 2: apply event 2 of intake: no such drum")

	all := gathered(t, db)
	require.InDelta(t, 1, all["barrelhead_inventory_feed_halted,stock,intake"], 0)
	require.InDelta(t, 1, all["barrelhead_inventory_feed_cursor_sequence,stock,intake"], 0)
	require.InDelta(t, 2, all["barrelhead_inventory_feed_lag_events,stock,intake"], 0)
	require.InDelta(t, 1, all["barrelhead_inventory_feed_pending_events"], 0)
	require.Zero(t, all["barrelhead_inventory_feed_head_sequence"])
	require.Zero(t, all["barrelhead_inventory_feed_listener_up"])
	require.InDelta(t, 3, gathered(t, dock)["barrelhead_intake_feed_head_sequence"], 0)
}
