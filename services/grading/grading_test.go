package grading_test

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/grading"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/project"
	"barrelhead.example/services/grading/internal/store"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpctest"
)

// neighbour is an intake that only has a feed.
type neighbour struct {
	t  *testing.T
	db *pg.DB
	*rpctest.Server
}

func newNeighbour(t *testing.T) *neighbour {
	t.Helper()
	n := &neighbour{t: t, db: pgtest.New(t, "intake")}
	facts := feed.NewServer(n.db, feed.WithPoll(20*time.Millisecond))
	n.Server = rpctest.New(t, func(r grpc.ServiceRegistrar) { feedv1.RegisterFeedServiceServer(r, facts) })
	t.Cleanup(facts.Drain)
	return n
}

// draw commits a sample of the neighbour's and returns its resource name.
func (n *neighbour) draw(body string) string {
	n.t.Helper()
	check, err := checkdigit.Code(body)
	require.NoError(n.t, err)
	fact := &intakev1.SampleDrawn{Sample: "samples/" + body + check, Barrel: "barrels/1", Variety: "knapweed", CropYear: 2026}
	n.commit(fact)
	return fact.GetSample()
}

// commit commits a fact of the neighbour's.
func (n *neighbour) commit(fact proto.Message) {
	n.t.Helper()
	err := n.db.InTx(n.t.Context(), func(ctx context.Context, tx pgx.Tx) error {
		return feed.Append(ctx, tx, time.Now(), feed.Meta{Actor: "users/dock1"}, feed.Fact{Aggregate: "barrels/1", Payload: fact})
	})
	require.NoError(n.t, err)
	feed.Announce(n.db)
}

// gaps keeps the gaps and tells nobody.
type gaps struct{}

func (gaps) CustodyBroken(ctx context.Context, tx pgx.Tx, g domain.CustodyGap, _ feed.Event) ([]feed.Fact, error) {
	return nil, store.Store{}.SaveGap(ctx, tx, &g)
}

// settings of a laboratory beside the neighbour.
func (n *neighbour) settings(url string) grading.Config {
	return grading.Config{Service: config.Service{
		Name: "grading", Database: config.Database{URL: url}, TLS: certs.Files(n.Dir, "grading"),
		Peers: map[string]string{"intake": n.Address}, LogLevel: "error",
		Cooperative: config.Cooperative{
			Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago",
		},
	}}
}

// serve runs a laboratory and returns a technician's client, and a function that ends it.
func (n *neighbour) serve(cfg grading.Config) (gradingv1.GradingServiceClient, func()) {
	n.t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(n.t, err)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- grading.Serve(ctx, cfg, lis) }()
	conn, err := rpcdial.Dial(n.t.Context(), config.Service{
		Name: "gateway", TLS: certs.Files(n.Dir, "gateway"), Peers: map[string]string{"grading": lis.Addr().String()},
	}, "grading", grpc.WithDefaultCallOptions(grpc.WaitForReady(true)))
	require.NoError(n.t, err)
	stopped := false
	stop := func() {
		if !stopped {
			stopped = true
			_ = conn.Close()
			cancel()
			require.NoError(n.t, <-ended)
		}
	}
	n.t.Cleanup(stop)
	return gradingv1.NewGradingServiceClient(conn), stop
}

func technician(ctx context.Context) context.Context {
	return access.Outgoing(ctx, rpctest.Person("tech1", accessv1.Role_ROLE_LAB))
}

func await(t *testing.T, client gradingv1.GradingServiceClient, sample string) *gradingv1.Sample {
	t.Helper()
	var got *gradingv1.Sample
	require.Eventually(t, func() bool {
		var err error
		got, err = client.GetSample(technician(t.Context()), &gradingv1.GetSampleRequest{Name: sample})
		return err == nil
	}, 30*time.Second, 20*time.Millisecond)
	return got
}

func TestSamplesArriveAndOutliveARestart(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	url := pgtest.URL(t, "grading")
	cfg := n.settings(url)
	client, stop := n.serve(cfg)
	first := n.draw("7KQ2XN4T")
	got := await(t, client, first)
	require.Equal(t, "knapweed", got.GetVariety())
	require.Equal(t, int32(2026), got.GetCropYear())
	require.Equal(t, gradingv1.SampleState_SAMPLE_STATE_WAITING, got.GetState())
	stop()
	second := n.draw("DRH3C9WY")
	client, _ = n.serve(cfg)
	await(t, client, second)
	await(t, client, first)
}

func TestStartsWithoutItsNeighbour(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	cfg := n.settings(pgtest.URL(t, "grading"))
	cfg.Peers = map[string]string{"intake": "127.0.0.1:1"}
	client, _ := n.serve(cfg)
	d, err := client.Evaluate(technician(t.Context()), &gradingv1.EvaluateRequest{Standard: "standards/us-extracted-1985", PfundMm: "34.5"})
	require.NoError(t, err)
	require.Equal(t, "EXTRA_LIGHT_AMBER", d.GetColorClass())
}

func TestWrongSettingsAreSaid(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	for message, change := range map[string]func(*grading.Config){
		"log level":             func(c *grading.Config) { c.LogLevel = "loud" },
		"time zone":             func(c *grading.Config) { c.Cooperative.TimeZone = "Fallow/Creek" },
		"no address":            func(c *grading.Config) { c.Peers = nil },
		"cannot be parsed":      func(c *grading.Config) { c.Database.URL = "postgres://%" },
		"read database":         func(c *grading.Config) { c.Database.URLFile = n.Dir + "/none" },
		"listen for calls":      func(c *grading.Config) { c.Listen = "nowhere:x" },
		"signing key":           func(c *grading.Config) { c.SigningKeyFile = n.Dir + "/grading.pem" },
		"list standards":        func(c *grading.Config) { c.StandardsDir = n.Dir + "/none" },
		"settings give no addr": func(c *grading.Config) { c.Peers = map[string]string{"intake": ""} },
	} {
		cfg := n.settings(pgtest.URL(t, "grading"))
		cfg.Listen = "127.0.0.1:0"
		change(&cfg)
		require.ErrorContains(t, grading.Run(t.Context(), cfg), message)
	}
}

// A new version of a standard is a file in a folder, beside the published ones.
func TestAFolderBringsFurtherStandards(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	cfg := n.settings(pgtest.URL(t, "grading"))
	cfg.StandardsDir = t.TempDir()
	const file = `{"id": "fallow-creek-cellar", "title": "Cellar honey", "version": "2026-1", "effective_date": "2026-01-01", "source": "board",
		"sources": {"board": "Fallow Creek Honey Cooperative, board resolution"},
		"grades": [{"id": "CELLAR", "words": "cellar honey", "short": "cellar honey"}, {"id": "NO", "words": "no cellar honey", "short": "no cellar honey"}],
		"factors": [{"factor": "MOISTURE", "limits": [{"grade": "CELLAR", "at_most": "17.0", "source": "board", "provenance": "house rule"}]}]}`
	require.NoError(t, os.WriteFile(filepath.Join(cfg.StandardsDir, "cellar.json"), []byte(file), 0o600))
	client, _ := n.serve(cfg)
	for water, want := range map[string]string{"17.0": "CELLAR", "17.1": "NO"} {
		d, err := client.Evaluate(technician(t.Context()), &gradingv1.EvaluateRequest{Standard: "standards/fallow-creek-cellar", MoisturePercent: water})
		require.NoError(t, err)
		require.Equal(t, want, d.GetGrade())
	}
}

func TestReadTablesCanBeRebuilt(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	db := pgtest.New(t, "grading")
	consumer := &feed.Consumer{
		Name: "samples", Source: "intake", DB: db, Client: feedv1.NewFeedServiceClient(n.AsService("grading")),
		Apply: project.Intake(store.Store{}, gaps{}), ReadTables: project.ReadTables,
	}
	n.draw("DRH3C9WY")
	n.commit(&intakev1.SampleCustodyBroken{Sample: n.draw("7KQ2XN4T"), Portion: intakev1.Portion_PORTION_B, Reason: "sent astray", SinceTime: timestamppb.Now()})
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- consumer.Run(ctx) }()
	content := func() []string {
		rows, err := db.Pool().Query(t.Context(), `SELECT s::text FROM sample s UNION ALL SELECT g::text FROM custody_gap g ORDER BY 1`)
		require.NoError(t, err)
		lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
		require.NoError(t, err)
		return lines
	}
	require.Eventually(t, func() bool { return len(content()) == 3 }, 30*time.Second, 20*time.Millisecond)
	cancel()
	require.NoError(t, <-ended)
	before := content()
	_, err := db.Pool().Exec(t.Context(), `UPDATE sample SET variety = 'spoiled'; DELETE FROM sample WHERE code LIKE '7%'; UPDATE custody_gap SET portion = 'C', since_time = NULL`, pgx.QueryExecModeSimpleProtocol)
	require.NoError(t, err)
	require.NoError(t, consumer.Rebuild(t.Context()))
	require.Equal(t, before, content())
}

func TestTheSigningKeyIsMadeOnceAndKept(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	cfg := n.settings(pgtest.URL(t, "grading"))
	cfg.SigningKeyFile = filepath.Join(t.TempDir(), "signing.pem")
	client, stop := n.serve(cfg)
	_, err := client.ListStandards(technician(t.Context()), &gradingv1.ListStandardsRequest{})
	require.NoError(t, err)
	stop()
	made, err := os.ReadFile(cfg.SigningKeyFile)
	require.NoError(t, err)
	info, err := os.Stat(cfg.SigningKeyFile)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	client, _ = n.serve(cfg)
	_, err = client.ListStandards(technician(t.Context()), &gradingv1.ListStandardsRequest{})
	require.NoError(t, err)
	kept, err := os.ReadFile(cfg.SigningKeyFile)
	require.NoError(t, err)
	require.Equal(t, made, kept)
}

func TestStoppingWhileTheDatabaseIsAwayIsNoFailure(t *testing.T) {
	t.Parallel()
	n := newNeighbour(t)
	cfg := n.settings("postgres://grading_app@127.0.0.1:1/none")
	cfg.Listen = "127.0.0.1:0"
	ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	require.NoError(t, grading.Run(ctx, cfg))
}
