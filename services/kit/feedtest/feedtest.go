// Package feedtest proves what readers of a feed may rely on, one named test for each guarantee, against the feed of any
// schema:
//
//	func TestFeed(t *testing.T) { feedtest.Run(t, feedtest.Subject{Schema: "intake"}) }
//
// The checker itself is proved by a control: the same history read naively, by "id > cursor", must be found faulty.
package feedtest

import (
	"context"
	"net"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/types/known/wrapperspb"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
)

// patience bounds every wait of the suite; reaching it is a failure.
const patience = 60 * time.Second

// Subject is the feed under test.
type Subject struct {
	// Schema whose migrations are used.
	Schema string
	// Server makes the server over a database; nil takes feed.NewServer.
	Server func(db *pg.DB, opts ...feed.ServerOption) *feed.Server
}

// Test is one guarantee.
type Test struct {
	Name string
	Run  func(t *testing.T, s Subject)
}

// Tests lists the whole suite; any of them can be run by itself.
func Tests() []Test {
	return []Test{
		{"Writers", Writers},
		{"ControlNaiveReaderFails", ControlNaiveReaderFails},
		{"StragglerIsNotLost", StragglerIsNotLost},
		{"Resumable", Resumable},
		{"Bookmarkable", Bookmarkable},
		{"Compacted", Compacted},
		{"CursorAhead", CursorAhead},
		{"LogChanged", LogChanged},
		{"RestoredLogGoesOn", RestoredLogGoesOn},
		{"Drain", Drain},
		{"NoticeWakes", NoticeWakes},
		{"ListenerKilled", ListenerKilled},
		{"SlowReaderHoldsNoConnection", SlowReaderHoldsNoConnection},
		{"TwoReplicas", TwoReplicas},
		{"CrashBetweenApplyAndCommit", CrashBetweenApplyAndCommit},
		{"PoisonHaltsThenSkips", PoisonHaltsThenSkips},
		{"UndecodableHalts", UndecodableHalts},
		{"UnknownTypeIsPassed", UnknownTypeIsPassed},
		{"NotYetWaits", NotYetWaits},
		{"ReplacedLogHaltsThenRebuilds", ReplacedLogHaltsThenRebuilds},
		{"RebuildIsIdentical", RebuildIsIdentical},
		{"GapIsRefused", GapIsRefused},
		{"FactsOfAConsumer", FactsOfAConsumer},
		{"TamperingIsFound", TamperingIsFound},
		{"ServiceRoleCannotRewrite", ServiceRoleCannotRewrite},
	}
}

// Run runs the whole suite in parallel.
func Run(t *testing.T, s Subject) {
	t.Helper()
	for _, test := range Tests() {
		t.Run(test.Name, func(t *testing.T) {
			t.Parallel()
			test.Run(t, s)
		})
	}
}

func (s Subject) server(db *pg.DB, opts ...feed.ServerOption) *feed.Server {
	if s.Server != nil {
		return s.Server(db, opts...)
	}
	return feed.NewServer(db, opts...)
}

// Serve puts a server behind a real gRPC connection in memory.
func Serve(t testing.TB, server feedv1.FeedServiceServer) feedv1.FeedServiceClient {
	t.Helper()
	lis := bufconn.Listen(1 << 20)
	g := grpc.NewServer()
	feedv1.RegisterFeedServiceServer(g, server)
	served := make(chan error, 1)
	go func() { served <- g.Serve(lis) }()
	conn, err := grpc.NewClient("passthrough:///feed", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return lis.DialContext(ctx) }))
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, conn.Close())
		g.Stop()
		require.NoError(t, <-served)
	})
	return feedv1.NewFeedServiceClient(conn)
}

// fixture is a database with its feed served.
type fixture struct {
	db     *pg.DB
	server *feed.Server
	client feedv1.FeedServiceClient
}

func setup(t *testing.T, s Subject, opts ...feed.ServerOption) fixture {
	t.Helper()
	db := pgtest.New(t, s.Schema)
	server := s.server(db, opts...)
	return fixture{db, server, Serve(t, server)}
}

// within gives a context that ends before the test binary's own limit, so that a hang is reported where it happens.
func within(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	t.Cleanup(cancel)
	return ctx
}

// add commits one transaction with one event per text.
func add(t *testing.T, db *pg.DB, aggregate string, texts ...string) {
	t.Helper()
	facts := make([]feed.Fact, len(texts))
	for i, text := range texts {
		facts[i] = feed.Fact{Aggregate: aggregate, Payload: wrapperspb.String(text)}
	}
	require.NoError(t, db.InTx(within(t), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{Actor: "users/dock1", RequestID: "r"}, facts...)
	}))
	feed.Announce(db)
}

// read collects pages until the given number of events has come.
func read(t *testing.T, client feedv1.FeedServiceClient, req *feedv1.WatchRequest, events int) []*feedv1.WatchResponse {
	t.Helper()
	ctx, cancel := context.WithCancel(within(t))
	defer cancel()
	stream, err := client.Watch(ctx, req)
	require.NoError(t, err)
	var pages []*feedv1.WatchResponse
	for got := 0; got < events; {
		answer, err := stream.Recv()
		require.NoError(t, err, "after %d of %d events", got, events)
		pages = append(pages, answer)
		got += len(answer.GetEvents())
	}
	return pages
}

func eventsOf(pages []*feedv1.WatchResponse) []*feedv1.Event {
	var all []*feedv1.Event
	for _, p := range pages {
		all = append(all, p.GetEvents()...)
	}
	return all
}

func textOf(t *testing.T, ev *feedv1.Event) string {
	t.Helper()
	var text wrapperspb.StringValue
	require.NoError(t, ev.GetPayload().UnmarshalTo(&text))
	return text.GetValue()
}

// eventually waits for a condition that another goroutine brings about.
func eventually(t *testing.T, condition func() bool, what string) {
	t.Helper()
	require.Eventually(t, condition, patience, 5*time.Millisecond, what)
}

// query reads one value as the service role.
func query[T any](t *testing.T, db *pg.DB, sql string, args ...any) T {
	t.Helper()
	var v T
	require.NoError(t, db.Pool().QueryRow(within(t), sql, args...).Scan(&v), sql)
	return v
}
