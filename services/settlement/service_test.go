package settlement_test

import (
	"context"
	"fmt"
	"net"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/deploy/certs"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/settlement"
	"barrelhead.example/services/settlement/internal/store"
)

const patience = 30 * time.Second

// neighbour is another service, or what settlement can see of it: a feed.
type neighbour struct {
	t       testing.TB
	db      *pg.DB
	address string
}

func newNeighbour(t testing.TB, dir, name string) *neighbour {
	n := &neighbour{t: t, db: pgtest.New(t, name)}
	lis := listen(t)
	n.address = lis.Addr().String()
	background(t, func(ctx context.Context) error {
		return rpcserve.Serve(ctx, rpcserve.Options{
			Config: config.Service{Name: name, TLS: certs.Files(dir, name)}, Log: zap.NewNop(),
			Allow: map[string][]string{feedv1.FeedService_ServiceDesc.ServiceName: {settlement.Schema}},
		}, lis, func(r grpc.ServiceRegistrar) {
			feedv1.RegisterFeedServiceServer(r, feed.NewServer(n.db, feed.WithDraining(rpcserve.Draining), feed.WithPoll(20*time.Millisecond)))
		})
	})
	return n
}

func listen(t testing.TB) net.Listener {
	lis, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	return lis
}

// background runs something until the test ends, or until the result is called.
func background(t testing.TB, run func(context.Context) error) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- run(ctx) }()
	ended := false
	stop = func() {
		if ended {
			return
		}
		ended = true
		cancel()
		require.NoError(t, <-done)
	}
	t.Cleanup(stop)
	return stop
}

func (n *neighbour) says(facts ...proto.Message) {
	require.NoError(n.t, n.db.InTx(context.Background(), func(ctx context.Context, tx pgx.Tx) error {
		for _, f := range facts {
			if err := feed.Append(ctx, tx, harvest, feed.Meta{Actor: "users/dock1"}, feed.Fact{Aggregate: "barrels/x", Payload: f}); err != nil {
				return err
			}
		}
		return nil
	}))
	feed.Announce(n.db)
}

type village struct {
	t                          testing.TB
	dir                        string
	intake, grading, inventory *neighbour
	office                     *house
	cfg                        settlement.Config
}

func settle(t testing.TB) *village {
	v := &village{t: t, dir: t.TempDir()}
	_, err := certs.Ensure(v.dir, certs.Names(), time.Now())
	require.NoError(t, err)
	v.intake, v.grading, v.inventory = newNeighbour(t, v.dir, "intake"), newNeighbour(t, v.dir, "grading"), newNeighbour(t, v.dir, "inventory")
	v.office = open(t)
	v.cfg = settlement.Config{Service: config.Service{
		Name: settlement.Schema, TLS: certs.Files(v.dir, settlement.Schema), LogLevel: "error",
		Database: config.Database{URL: pgtest.URL(t, settlement.Schema)},
		Peers: map[string]string{
			"intake": v.intake.address, "grading": v.grading.address, "inventory": v.inventory.address,
		},
		Cooperative: config.Cooperative{Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago"},
	}}
	return v
}

func (v *village) run() (address string, stop func()) {
	lis := listen(v.t)
	return lis.Addr().String(), background(v.t, func(ctx context.Context) error { return settlement.Serve(ctx, v.cfg, lis) })
}

func (v *village) client(address string) settlementv1.SettlementServiceClient {
	conn, err := rpcdial.Dial(v.t.Context(), config.Service{
		Name: rpcserve.Gateway, TLS: certs.Files(v.dir, rpcserve.Gateway), Peers: map[string]string{settlement.Schema: address},
	}, settlement.Schema, grpc.WithDefaultCallOptions(grpc.WaitForReady(true)))
	require.NoError(v.t, err)
	v.t.Cleanup(func() { _ = conn.Close() })
	return settlementv1.NewSettlementServiceClient(conn)
}

func (v *village) awaitPriced(barrels int32) {
	require.Eventually(v.t, func() bool {
		totals, err := v.office.app.Store.GrandTotal(v.t.Context(), v.office.db.Pool())
		return err == nil && totals.Priced == int64(barrels)
	}, patience, 20*time.Millisecond)
}

func (v *village) season(from, to int) {
	for i := from; i < to; i++ {
		tag := fmt.Sprintf("FC-%d", i)
		v.grading.says(graded(tag, 1, "17.0", "WHITE", "A"))
		v.intake.says(sampled(tag), closed(ticket(fmt.Sprintf("FC-2026-%06d", i), "M-0001", barrelOf{tag, "640.0", "clover"})))
	}
}

func TestServiceFollowsItsNeighboursThroughARestart(t *testing.T) {
	t.Parallel()
	v := settle(t)
	v.office.adopt(prices("2026-07-01"))
	v.intake.says(member("M-0001", "Orchard Hill Apiary"))
	v.season(0, 10)
	address, stop := v.run()
	v.awaitPriced(10)
	total, err := v.client(address).GetMemberTotal(rpctest.As(t.Context(), treasurer), &settlementv1.GetMemberTotalRequest{Member: "members/M-0001"})
	require.NoError(t, err)
	require.Equal(t, "7040.00", total.GetNetAmount().GetAmount())
	stop()
	v.season(10, 20)
	v.run()
	v.awaitPriced(20)
	require.Equal(t, "14080.00", v.office.total("M-0001").GetNetAmount().GetAmount())
}

func TestTwoReplicasPriceEachBarrelOnce(t *testing.T) {
	t.Parallel()
	v := settle(t)
	v.office.adopt(prices("2026-07-01"))
	v.intake.says(member("M-0001", "Orchard Hill Apiary"))
	v.run()
	v.run()
	v.season(0, 40)
	v.awaitPriced(40)
	require.Len(t, v.office.payouts("M-0001"), 40)
}

func TestReadTablesComeOutIdenticalWhenRebuilt(t *testing.T) {
	t.Parallel()
	v := settle(t)
	v.office.adopt(prices("2026-07-01"))
	v.intake.says(member("M-0001", "Orchard Hill Apiary"), member("M-0002", "Three Oaks Honey"))
	v.season(0, 10)
	old := ticket("FC-2026-000003", "M-0001", barrelOf{"FC-3", "640.0", "clover"})
	v.intake.says(&intakev1.TicketReissued{OldTicket: old, NewTicket: ticket("FC-2026-000011", "M-0002", barrelOf{"FC-3", "640.0", "clover"})})
	v.intake.says(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000004", "M-0001", barrelOf{"FC-4", "640.0", "clover"})})
	v.grading.says(graded("FC-5", 2, "19.2", "WHITE", "A"))
	v.inventory.says(held("FC-6", inventoryv1.HoldCode_HOLD_CODE_RECALL), held("FC-7", inventoryv1.HoldCode_HOLD_CODE_SCALE), released("FC-7", inventoryv1.HoldCode_HOLD_CODE_SCALE),
		sold("Invoice 114", inventoryv1.SaleKind_SALE_KIND_PROCEEDS, part("clover", 2026, "1300.01")))
	v.intake.says(containersOut("M-0002", 4), scaleReview("review", "FC-8"), reweighed("FC-9", 1, "-4.0"), tareVariance("FC-2", "-9.0"))
	v.grading.says(doubted("control/1", "FC-1"), feeDue("FC-5"))
	_, stop := v.run()
	v.awaitCaughtUp()
	stop()
	before, money := v.dump(), v.office.money()
	for _, c := range v.consumers() {
		require.NoError(t, c.Rebuild(t.Context()))
	}
	require.Equal(t, before, v.dump())
	require.Equal(t, money, v.office.money(), "filling the tables again pays nobody")
}

func (v *village) awaitCaughtUp() {
	require.Eventually(v.t, func() bool {
		for consumer, n := range map[string]*neighbour{"deliveries": v.intake, "certificates": v.grading, "holds": v.inventory} {
			var head, at int64
			require.NoError(v.t, n.db.Pool().QueryRow(v.t.Context(), `SELECT head_sequence + (SELECT count(*) FROM event_pending) FROM feed_head`).Scan(&head))
			err := v.office.db.Pool().QueryRow(v.t.Context(), `SELECT sequence FROM feed_cursor WHERE consumer = $1`, consumer).Scan(&at)
			if err != nil || at != head {
				return false
			}
		}
		return true
	}, patience, 20*time.Millisecond)
}

// consumers are those of the service, to be told to rebuild.
func (v *village) consumers() []*feed.Consumer {
	conns, err := rpcdial.All(v.t.Context(), v.cfg.Service, []string{"intake", "grading", "inventory"}, grpc.WithDefaultCallOptions(grpc.WaitForReady(true)))
	require.NoError(v.t, err)
	for _, c := range conns {
		v.t.Cleanup(func() { _ = c.Close() })
	}
	p, db := v.office.prj, v.office.db
	return []*feed.Consumer{
		{Name: "deliveries", Source: "intake", DB: db, Client: feedv1.NewFeedServiceClient(conns["intake"]), Apply: p.Intake, ReadTables: store.IntakeTables},
		{Name: "certificates", Source: "grading", DB: db, Client: feedv1.NewFeedServiceClient(conns["grading"]), Apply: p.Grading, ReadTables: store.GradingTables},
		{Name: "holds", Source: "inventory", DB: db, Client: feedv1.NewFeedServiceClient(conns["inventory"]), Apply: p.Inventory, ReadTables: store.InventoryTables},
	}
}

func (v *village) dump() map[string][]string {
	out := map[string][]string{}
	for _, tables := range [][]string{store.IntakeTables, store.GradingTables, store.InventoryTables} {
		for _, table := range tables {
			out[table] = v.office.rows(table)
			require.NotEmpty(v.t, out[table])
		}
	}
	return out
}

func (h *house) money() []string { return append(h.rows("payout"), h.rows("payout_line")...) }

func (h *house) rows(table string) []string {
	rows, err := h.db.Pool().Query(h.t.Context(), `SELECT t::text FROM `+pgx.Identifier{table}.Sanitize()+` t ORDER BY 1`)
	require.NoError(h.t, err)
	out, err := pgx.CollectRows(rows, pgx.RowTo[string])
	require.NoError(h.t, err)
	return out
}

// With its neighbours away the service still answers, and follows them when they come.
func TestServiceStartsWithoutItsNeighbours(t *testing.T) {
	t.Parallel()
	v := settle(t)
	elsewhere := listen(t)
	v.cfg.Peers["grading"] = elsewhere.Addr().String()
	require.NoError(t, elsewhere.Close())
	v.office.adopt(prices("2026-07-01"))
	v.intake.says(member("M-0001", "Orchard Hill Apiary"))
	v.season(0, 3)
	address, stop := v.run()
	require.Eventually(t, func() bool { return len(v.office.waiting()) == 3 }, patience, 20*time.Millisecond)
	list, err := v.client(address).ListUnpriced(rpctest.As(t.Context(), treasurer), &settlementv1.ListUnpricedRequest{})
	require.NoError(t, err)
	require.Equal(t, "waiting for its certificate", list.GetUnpriced()[0].GetReason())
	stop()
	v.cfg.Peers["grading"] = v.grading.address
	v.run()
	v.awaitPriced(3)
}

func TestServiceRefusesToStartWithBadSettings(t *testing.T) {
	t.Parallel()
	v := settle(t)
	cfg := v.cfg
	cfg.Cooperative.TimeZone = "Nowhere/Land"
	require.ErrorContains(t, settlement.Serve(t.Context(), cfg, listen(t)), "time zone")
	cfg = v.cfg
	cfg.LogLevel = "loud"
	require.ErrorContains(t, settlement.Serve(t.Context(), cfg, listen(t)), "log level")
	cfg = v.cfg
	cfg.Peers = map[string]string{"intake": "127.0.0.1:1"}
	require.ErrorContains(t, settlement.Serve(t.Context(), cfg, listen(t)), "no address")
	cfg = v.cfg
	cfg.Database.URLFile = "/nowhere/url"
	require.ErrorContains(t, settlement.Run(t.Context(), cfg), "connection string")
}

// What cannot be a fact of this cooperative is not passed over.
func TestRubbishIsRefused(t *testing.T) {
	t.Parallel()
	h := open(t)
	metric := ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})
	metric.Barrels[0].Net.Unit = "KG"
	require.ErrorContains(t, h.tryTake(closed(metric)), "ticket FC-2026-000001, line 1: net: the unit is \"KG\"")
	dateless := ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})
	dateless.DeliveryDate = "14 September"
	require.ErrorContains(t, h.tryTake(closed(dateless)), "delivery date")
	require.ErrorContains(t, h.tryTake(&intakev1.SampleDrawn{Sample: "samples/S", Barrel: "drums/1"}), "is not the name of one of barrels")
	require.ErrorContains(t, h.tryTake(&intakev1.TicketVoided{Ticket: &intakev1.Ticket{Name: "tickets/1"}}), `read "tickets/1"`)
	wet := graded("FC-1", 1, "nineteen", "WHITE", "A")
	require.ErrorContains(t, h.tryTake(wet), "certificate G-FC-1-1: moisture")
	require.ErrorContains(t, h.tryTake(&inventoryv1.HoldPlaced{Hold: &inventoryv1.Hold{Name: "holds/x"}, Barrel: "barrels/y"}), "read \"holds/x\"")
	h.take(&intakev1.DrumReleased{})
}

func TestCertificateWithoutWaterPricesNothing(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})))
	h.take(sampled("FC-1"))
	h.take(graded("FC-1", 1, "", "WHITE", "A"))
	require.Equal(t, "certificate G-FC-1-1 states no water content", h.waiting()["FC-1"])
}
