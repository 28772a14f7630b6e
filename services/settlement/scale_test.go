package settlement_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/settlement/internal/rpc"
)

// waits fills the read tables with certified barrels that no schedule prices yet.
func (h *house) waits(barrels int) {
	h.asOwner(`INSERT INTO intake_member SELECT 'members/M-' || to_char(n, 'FM0000'), 'Member ' || n FROM generate_series(1, 100) n`)
	h.asOwner(`INSERT INTO intake_barrel SELECT gen_random_uuid(), gen_random_uuid(), 'FC-2026-' || n, 'members/M-' || to_char(1 + n % 100, 'FM0000'),
		'FC-' || n, 'clover', 600000 + n % 60000, 2026, '2026-09-14', true FROM generate_series(1, $1::int) n`, barrels)
	h.asOwner(`INSERT INTO intake_sample SELECT 'samples/' || barrel, barrel FROM intake_barrel`)
	h.asOwner(`INSERT INTO grading_certificate SELECT gen_random_uuid(), 'samples/' || barrel, 'G-' || drum_tag, 'A', 'WHITE', 1600 + net % 400,
		ARRAY['refractive index 1.4885 at 21.0 °C on RF-2: 19.2 %', 'colour 12.0 mm on CM-1: 12.0 mm', 'flavour and aroma 47 of 50 points'],
		'2026-09-16', '', NULL FROM intake_barrel`)
	h.asOwner(`ANALYZE`)
}

// Adoption late in the season: everything that waits is priced in the one transaction, within the deadline of a call, and the
// facts of it, which are one page of the feed, still reach a reader.
func TestTenThousandWaitingBarrels(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.waits(10_000)
	s := rpctest.New(t, func(r grpc.ServiceRegistrar) {
		rpc.Register(r, h.app)
		feedv1.RegisterFeedServiceServer(r, feed.NewServer(h.db, feed.WithDraining(rpcserve.Draining)))
	})
	draft := h.draft(prices("2026-07-01"))
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute) // the race detector on a busy machine
	defer cancel()
	start := time.Now()
	_, err := settlementv1.NewSettlementServiceClient(s.As(board)).AdoptSchedule(ctx, adoption(draft))
	require.NoError(t, err)
	t.Logf("10,000 barrels priced and saved in %v", time.Since(start))

	totals, err := h.app.ListMemberTotals(access.With(t.Context(), office), &settlementv1.ListMemberTotalsRequest{PageSize: 1000})
	require.NoError(t, err)
	require.Equal(t, int32(10_000), totals.GetGrandTotal().GetPricedBarrels())
	require.Len(t, totals.GetMemberTotals(), 100)
	require.Empty(t, h.waiting())

	stream, err := feedv1.NewFeedServiceClient(s.AsService("inventory")).Watch(t.Context(), &feedv1.WatchRequest{})
	require.NoError(t, err)
	for seen := 0; seen < 10_002; {
		page, err := stream.Recv()
		require.NoError(t, err)
		seen += len(page.GetEvents())
		t.Logf("page of %d events, %d bytes", len(page.GetEvents()), proto.Size(page))
	}
	h.closes(10_000)
}

// With fewer at once, the adoption prices the first and the sweep all others, however often it is run.
func TestTheSweepPricesTheRest(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.waits(250)
	h.app.AtOnce = 100
	priced := func() int32 {
		totals, err := h.app.ListMemberTotals(access.With(t.Context(), office), &settlementv1.ListMemberTotalsRequest{})
		require.NoError(t, err)
		return totals.GetGrandTotal().GetPricedBarrels()
	}
	h.adopt(prices("2026-07-01"))
	require.Equal(t, int32(100), priced())
	for range 2 {
		require.NoError(t, h.app.Sweep(t.Context()))
		require.Equal(t, int32(250), priced())
	}
	require.Equal(t, 250, h.facts()[pricedFact])
}

func TestAnAdoptionWakesTheSweep(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.waits(250)
	h.app.AtOnce = 100
	background(t, func(ctx context.Context) error {
		return h.app.KeepSweeping(ctx, func(err error) { require.NoError(t, err) })
	})
	h.adopt(prices("2026-07-01"))
	require.Eventually(t, func() bool { return len(h.waiting()) == 0 }, patience, 20*time.Millisecond)
}

// closes runs a pool of that many barrels to its end.
func (h *house) closes(barrels int32) {
	m := &market{house: h, as: h.serve()}
	m.pool = poolOf(m)
	m.sells("15000000.00")
	start := time.Now()
	r := m.prepare()
	h.t.Logf("calculated in %v", time.Since(start))
	require.Equal(h.t, barrels, r.GetBarrels())
	_, err := m.approve(board, r)
	require.NoError(h.t, err)
	start = time.Now()
	ctx, cancel := context.WithTimeout(h.t.Context(), 4*time.Minute) // the race detector on a busy machine
	defer cancel()
	_, err = m.as(treasurer).ReleaseRun(ctx, &settlementv1.ReleaseRunRequest{RequestId: uuid.NewString(), Name: r.GetName(), Fingerprint: r.GetFingerprint()})
	require.NoError(h.t, err)
	h.t.Logf("finals priced and saved in %v", time.Since(start))
	require.NotEmpty(h.t, m.balances())
}
