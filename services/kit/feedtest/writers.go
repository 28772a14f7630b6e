package feedtest

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

const (
	writers      = 32
	transactions = 12 // per writer
	aggregates   = 5
)

// Writers lets 32 writers commit and roll back at random while two readers follow, and checks both histories for each
// guarantee by name.
func Writers(t *testing.T, s Subject) {
	f := setup(t, s)
	addAggregates(t, f.db)
	pool := widePool(t, s)
	var readers [2]*history
	var group errgroup.Group
	total := make(chan struct{})
	committed := map[string]int{}
	for i, size := range []int32{1, 7} {
		readers[i] = &history{}
		group.Go(func() error { return follow(within(t), f.client, size, readers[i], total, &committed) })
	}
	written := write(t, pool, nil)
	for transaction, events := range written {
		committed[transaction] = events
	}
	close(total)
	require.NoError(t, group.Wait())
	for i, h := range readers {
		h.committed = committed
		for _, g := range guarantees() {
			t.Run(fmt.Sprintf("%s_reader%d", g.name, i+1), func(t *testing.T) { require.NoError(t, g.check(h)) })
		}
	}
	checked, err := feed.Verify(within(t), f.db)
	require.NoError(t, err)
	require.Equal(t, query[int64](t, f.db, "SELECT head_sequence FROM feed_head"), checked)
}

// widePool lets all writers have a transaction open at once.
func widePool(t *testing.T, s Subject) *pg.DB {
	t.Helper()
	db, err := pg.Open(within(t), pg.Config{URL: pgtest.URL(t, s.Schema), Schema: s.Schema, MaxConns: writers}, zap.NewNop())
	require.NoError(t, err)
	t.Cleanup(db.Close)
	return db
}

// addAggregates uses rows every schema has and every service role may lock.
func addAggregates(t *testing.T, db *pg.DB) {
	t.Helper()
	for i := range aggregates {
		_, err := db.Pool().Exec(within(t), "INSERT INTO feed_cursor (consumer, source) VALUES ($1, 'aggregate')", aggregateName(i))
		require.NoError(t, err)
	}
}

func aggregateName(i int) string { return fmt.Sprintf("barrels/%d", i) }

var errChangedMind = errors.New("one transaction in ten is rolled back")

// write returns the committed transactions and how many events each has. after, where given, runs after each commit.
func write(t *testing.T, db *pg.DB, after func()) map[string]int {
	t.Helper()
	ctx := within(t)
	var mu sync.Mutex
	committed := map[string]int{}
	var group errgroup.Group
	for w := range writers {
		group.Go(func() error {
			for n := range transactions {
				name := fmt.Sprintf("w%d-%d", w, n)
				events, err := writeOne(ctx, db, name)
				if errors.Is(err, errChangedMind) {
					continue
				}
				if err != nil {
					return err
				}
				mu.Lock()
				committed[name] = events
				mu.Unlock()
				feed.Announce(db)
				if after != nil {
					after()
				}
			}
			return nil
		})
	}
	require.NoError(t, group.Wait())
	require.NotEmpty(t, committed)
	return committed
}

// writeOne thinks before, takes the aggregate's lock, appends, and thinks again before the commit: the time in which
// another transaction can overtake it.
func writeOne(ctx context.Context, db *pg.DB, name string) (events int, err error) {
	err = db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error {
		if err := think(ctx, tx); err != nil {
			return err
		}
		aggregate := aggregateName(rand.IntN(aggregates))
		var version int64
		const lock = "UPDATE feed_cursor SET sequence = sequence + 1 WHERE consumer = $1 RETURNING sequence"
		if err := tx.QueryRow(ctx, lock, aggregate).Scan(&version); err != nil {
			return err
		}
		events = 1 + rand.IntN(3)
		facts := make([]feed.Fact, events)
		for i := range facts {
			facts[i] = feed.Fact{Aggregate: aggregate, Payload: wrapperspb.String(tag{name, i, events, version}.String())}
		}
		if err := feed.Append(ctx, tx, time.Now(), feed.Meta{Actor: "users/dock1", RequestID: name}, facts...); err != nil {
			return err
		}
		if rand.IntN(10) == 0 {
			return errChangedMind
		}
		return think(ctx, tx)
	})
	return events, err
}

// think lets the database do the waiting, with the transaction open.
func think(ctx context.Context, tx pgx.Tx) error {
	_, err := tx.Exec(ctx, "SELECT pg_sleep($1)", rand.Float64()*0.002)
	return err
}

// follow reads until everything committed has come. committed may be read only after total is closed.
func follow(ctx context.Context, client feedv1.FeedServiceClient, size int32, h *history, total <-chan struct{}, committed *map[string]int) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := client.Watch(ctx, &feedv1.WatchRequest{MaxEvents: size})
	if err != nil {
		return err
	}
	got, want := 0, -1
	for want < 0 || got < want {
		answer, err := stream.Recv()
		if err != nil {
			return fmt.Errorf("after %d events: %w", got, err)
		}
		if err := h.add(answer); err != nil {
			return err
		}
		got += len(answer.GetEvents())
		select {
		case <-total:
			want = 0
			for _, events := range *committed {
				want += events
			}
		default:
		}
	}
	return nil
}

// ControlNaiveReaderFails reads the same kind of history by "id > cursor", with one transaction overtaken on purpose. The
// checker must find it faulty: a checker that cannot fail proves nothing.
func ControlNaiveReaderFails(t *testing.T, s Subject) {
	db := pgtest.New(t, s.Schema)
	addAggregates(t, db)
	h := &history{committed: map[string]int{}}
	naive := &naiveReader{}
	overtake(t, db, h.committed, func() { naive.poll(t, db, h) })
	naive.poll(t, db, h)
	require.ErrorContains(t, h.checkAll(), "Reliable", "the naive reader must have lost the overtaken transaction")
	require.ErrorContains(t, h.checkAll(), "Dense")
}

// StragglerIsNotLost is the control's scene with the real reader.
func StragglerIsNotLost(t *testing.T, s Subject) {
	f := setup(t, s)
	addAggregates(t, f.db)
	h := &history{committed: map[string]int{}}
	stream, err := f.client.Watch(within(t), &feedv1.WatchRequest{})
	require.NoError(t, err)
	next := func() {
		for events := 0; events == 0; {
			answer, err := stream.Recv()
			require.NoError(t, err)
			require.NoError(t, h.add(answer))
			events = len(answer.GetEvents())
		}
	}
	overtake(t, f.db, h.committed, next)
	next()
	require.NoError(t, h.checkAll())
}

// overtake commits transaction "fast" while "slow", which appended first, is still open, lets the reader look, and only
// then commits "slow".
func overtake(t *testing.T, db *pg.DB, committed map[string]int, look func()) {
	t.Helper()
	require.NoError(t, db.InTx(within(t), func(ctx context.Context, tx pgx.Tx) error {
		if err := appendTagged(ctx, tx, "slow"); err != nil {
			return err
		}
		if err := db.InTx(ctx, func(ctx context.Context, tx pgx.Tx) error { return appendTagged(ctx, tx, "fast") }); err != nil {
			return err
		}
		feed.Announce(db)
		look()
		return nil
	}))
	feed.Announce(db)
	committed["slow"], committed["fast"] = 1, 1
}

func appendTagged(ctx context.Context, tx pgx.Tx, name string) error {
	return feed.Append(ctx, tx, time.Now(), feed.Meta{}, feed.Fact{
		Aggregate: "barrels/" + name, Payload: wrapperspb.String(tag{name, 0, 1, 1}.String()),
	})
}

// naiveReader does what must not be done: it takes the insertion number for a position.
type naiveReader struct{ cursor int64 }

func (n *naiveReader) poll(t *testing.T, db *pg.DB, h *history) {
	t.Helper()
	rows, err := db.Pool().Query(within(t),
		"SELECT insertion, event_id::text, aggregate, payload FROM event_pending WHERE insertion > $1 ORDER BY insertion", n.cursor)
	require.NoError(t, err)
	var page []seen
	var ev seen
	var payload []byte
	_, err = pgx.ForEachRow(rows, []any{&ev.sequence, &ev.id, &ev.aggregate, &payload}, func() error {
		text := parsePayload(t, payload)
		var err error
		if ev.tag, err = parseTag(text); err != nil {
			return err
		}
		page = append(page, ev)
		n.cursor = ev.sequence
		return nil
	})
	require.NoError(t, err)
	h.pages = append(h.pages, page)
}
