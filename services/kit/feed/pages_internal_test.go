package feed

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

// counted counts the readings.
type counted struct {
	pg.Querier
	readings atomic.Int32
}

func (c *counted) SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults {
	c.readings.Add(1)
	return c.Querier.SendBatch(ctx, b)
}

func readTogether(t *testing.T, p *pages, db pg.Querier, at place) []*page {
	t.Helper()
	found := make([]*page, 10)
	var group sync.WaitGroup
	for i := range found {
		group.Go(func() {
			var err error
			if found[i], err = p.read(t.Context(), db, at); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	return found
}

func TestPages_OneReadingServesAllStreams(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	q := &counted{Querier: db.Pool()}
	p := newPages(time.Millisecond)
	for _, found := range readTogether(t, p, q, place{0, 100}) {
		require.Empty(t, found.records)
	}
	require.EqualValues(t, 10, q.readings.Load(), "nothing yet is each stream's own finding: it may be older than what woke another")

	require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return Append(ctx, tx, time.Now(), Meta{}, Fact{Aggregate: "barrels/1", Payload: wrapperspb.Bool(true)})
	}))
	q.readings.Store(0)
	for _, found := range readTogether(t, p, q, place{0, 100}) {
		require.Len(t, found.records, 1)
	}
	require.EqualValues(t, 1, q.readings.Load())
	require.Empty(t, readTogether(t, p, q, place{1, 100})[0].records, "what follows is another page")
}

func TestPages_ALeaderWhoLeavesHarmsNobody(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t, "intake")
	require.NoError(t, db.InTx(t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return Append(ctx, tx, time.Now(), Meta{}, Fact{Aggregate: "barrels/1", Payload: wrapperspb.Bool(true)})
	}))
	p := newPages(time.Hour)
	p.head = time.Now() // the leader has to pause
	gone, leave := context.WithCancel(t.Context())
	r, first := p.join(place{0, 100})
	require.True(t, first)
	leave()
	_, err := p.lead(gone, db.Pool(), place{0, 100}, r)
	require.ErrorIs(t, err, context.Canceled)
	p.head = time.Time{}
	found, err := p.read(t.Context(), db.Pool(), place{0, 100})
	require.NoError(t, err)
	require.Len(t, found.records, 1)
}
