package inventory_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
)

// suite is the certificates and addresses of a small deployment.
type suite struct {
	t     *testing.T
	dir   string
	lis   map[string]net.Listener
	peers map[string]string
	db    string
}

func newSuite(t *testing.T) *suite {
	t.Helper()
	s := &suite{t: t, dir: t.TempDir(), lis: map[string]net.Listener{}, peers: map[string]string{}, db: pgtest.URL(t, "inventory")}
	_, err := certs.Ensure(s.dir, certs.Names(), time.Now())
	require.NoError(t, err)
	for _, name := range []string{"intake", "grading", "inventory"} {
		s.listen(name, "127.0.0.1:0")
	}
	return s
}

func (s *suite) listen(name, address string) {
	s.t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(s.t.Context(), "tcp", address)
	require.NoError(s.t, err)
	s.lis[name], s.peers[name] = lis, lis.Addr().String()
}

func (s *suite) config(name string) config.Service {
	return config.Service{
		Name: name, TLS: certs.Files(s.dir, name), Peers: s.peers, LogLevel: "error", Database: config.Database{URL: s.db},
		Cooperative: config.Cooperative{Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago"},
	}
}

// neighbour serves a feed with the events given.
func (s *suite) neighbour(name string, events ...proto.Message) {
	s.t.Helper()
	db := pgtest.New(s.t, name)
	for i, e := range events {
		require.NoError(s.t, db.InTx(s.t.Context(), func(ctx context.Context, tx pgx.Tx) error {
			return feed.Append(ctx, tx, fixture.Start, feed.Meta{}, feed.Fact{Aggregate: fmt.Sprint("events/", i), Payload: e})
		}))
	}
	s.background(name, func(ctx context.Context, lis net.Listener) error {
		return rpcserve.Serve(ctx, rpcserve.Options{
			Config: s.config(name), Log: zap.NewNop(),
			Allow: map[string][]string{feedv1.FeedService_ServiceDesc.ServiceName: {"inventory"}},
		}, lis, func(r grpc.ServiceRegistrar) {
			feedv1.RegisterFeedServiceServer(r, feed.NewServer(db, feed.WithDraining(rpcserve.Draining)))
		})
	})
}

// background runs a service until the test ends or stop is called.
func (s *suite) background(name string, run func(context.Context, net.Listener) error) (stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- run(ctx, s.lis[name]) }()
	stopped := false
	stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		require.NoError(s.t, <-done)
	}
	s.t.Cleanup(stop)
	return stop
}

func (s *suite) inventory() (stop func()) {
	return s.background("inventory", func(ctx context.Context, lis net.Listener) error {
		return inventory.Serve(ctx, inventory.Config{Service: s.config("inventory")}, lis)
	})
}

func (s *suite) dial(caller string) *grpc.ClientConn {
	s.t.Helper()
	conn, err := rpcdial.Dial(s.t.Context(), s.config(caller), "inventory", grpc.WithDefaultCallOptions(grpc.WaitForReady(true)))
	require.NoError(s.t, err)
	s.t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// awaitHolds follows inventory's own feed until n holds were placed.
func (s *suite) awaitHolds(n int) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(s.t.Context(), time.Minute)
	defer cancel()
	stream, err := feedv1.NewFeedServiceClient(s.dial("settlement")).Watch(ctx, &feedv1.WatchRequest{})
	require.NoError(s.t, err)
	for n > 0 {
		page, err := stream.Recv()
		require.NoError(s.t, err)
		for _, e := range page.GetEvents() {
			if e.GetPayload().MessageIs(&inventoryv1.HoldPlaced{}) {
				n--
			}
		}
	}
}

func TestServiceWaitsForItsNeighboursAndGoesOnAfterARestart(t *testing.T) {
	t.Parallel()
	s := newSuite(t)
	stop := s.inventory()
	barrel := fixture.Barrel{Number: 1, Net: "640.0", Variety: "clover"}
	d := fixture.Delivery{Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Barrels: []fixture.Barrel{barrel}}
	s.neighbour("intake", d.Events()...)
	s.awaitHolds(1)
	stop()

	s.listen("inventory", "127.0.0.1:0")
	s.inventory()
	s.neighbour("grading", fixture.Certified(barrel, fixture.Grade{Number: 1, Grade: "B", ColorClass: "AMBER", Moisture: "18.2", Pfund: "90.0"}))
	ctx := rpctest.As(t.Context(), rpctest.Person("wh1", accessv1.Role_ROLE_WAREHOUSE))
	wh := inventoryv1.NewInventoryServiceClient(s.dial("gateway"))
	require.Eventually(t, func() bool {
		item, err := wh.GetStockItem(ctx, &inventoryv1.GetStockItemRequest{Name: "stock/" + fixture.ID("barrel", 1).String()})
		require.NoError(t, err)
		require.Len(t, item.GetHolds(), 1, "the restart placed no second hold")
		return item.GetGrade() == "B"
	}, time.Minute, 20*time.Millisecond)
}

func TestOperatorSeesBothFeedsAndMayRebuildThem(t *testing.T) {
	t.Parallel()
	s := newSuite(t)
	s.inventory()
	d := fixture.Delivery{
		Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Barrels: []fixture.Barrel{{Number: 1, Net: "640.0", Variety: "clover"}},
	}
	s.neighbour("intake", d.Events()...)
	s.neighbour("grading")
	s.awaitHolds(1)
	ctx := rpctest.As(t.Context(), rpctest.Person("ops1", accessv1.Role_ROLE_ADMINISTRATOR))
	admin := feedv1.NewFeedAdminServiceClient(s.dial("gateway"))
	list, err := admin.ListFeedSources(ctx, &feedv1.ListFeedSourcesRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetSources(), 2)
	stream, err := admin.RebuildFeedSource(ctx, &feedv1.RebuildFeedSourceRequest{RequestId: uuid.NewString(), Name: "feedSources/stock"})
	require.NoError(t, err)
	var last *feedv1.RebuildFeedSourceResponse
	for {
		report, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		last = report
	}
	require.Equal(t, int64(2), last.GetSource().GetSequence())
}

func TestSettingsThatCannotBeMeantAreRefused(t *testing.T) {
	t.Parallel()
	s := newSuite(t)
	cfg := inventory.Config{Service: s.config("inventory")}
	cfg.Cooperative.Unit = "STONE"
	require.ErrorContains(t, inventory.Serve(t.Context(), cfg, s.lis["inventory"]), "STONE")
	whole := inventory.Config{Service: s.config("inventory")}
	before := len(whole.Check())
	whole.GS1Prefix = "06141"
	require.Len(t, whole.Check(), before+1)
	whole.GS1Prefix = "0614141"
	require.Len(t, whole.Check(), before)
}
