package idem_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"google.golang.org/protobuf/types/known/wrapperspb"

	"barrelhead.example/migrations"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/idem"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgrun"
)

const (
	slice  = time.Second
	rounds = 7
	// pgbench counts connecting its clients as part of its time: on a busy machine that alone can take a second.
	pgbenchSlice = 2 * time.Second
)

// BenchmarkDo compares one insert and one fact, by Do and by DoShared, with pgbench's single tiny insert on the same
// durable cluster, in turns, because the rate of a shared machine moves: only the ratio of the medians means anything. It
// measures for a fixed time, whatever b.N is: run it with -benchtime 1x.
func BenchmarkDo(b *testing.B) {
	cluster := durable(b)
	db := openBench(b, cluster, 64)
	paths := map[string]func(context.Context, *pg.DB) error{"plain": weighIn, "shared": weighInShared}
	for _, streams := range []int{8, 64} {
		b.Run(fmt.Sprintf("streams=%d", streams), func(b *testing.B) {
			limit := map[int][]float64{}
			rates, late := map[string][]float64{}, map[string][]time.Duration{}
			for range rounds {
				// pgbench at its own best as well: more clients than that only slow it down.
				for _, clients := range slices.Compact([]int{8, streams}) {
					limit[clients] = append(limit[clients], pgbench(b, cluster, clients))
				}
				for name, path := range paths {
					rate, took := drive(b, db, streams, path)
					rates[name], late[name] = append(rates[name], rate), append(late[name], took...)
				}
			}
			for clients, seen := range limit {
				b.ReportMetric(median(seen), fmt.Sprintf("pgbench%d/s", clients))
			}
			for name := range paths {
				b.ReportMetric(median(rates[name]), name+"/s")
				b.ReportMetric(median(rates[name])/median(limit[8]), name+"/pgbench8")
				slices.Sort(late[name])
				b.ReportMetric(float64(late[name][len(late[name])*99/100].Microseconds())/1000, name+"-p99-ms")
			}
		})
	}
}

func median(values []float64) float64 {
	slices.Sort(values)
	return values[len(values)/2]
}

func durable(b *testing.B) *pgrun.Cluster {
	b.Helper()
	dir, err := os.MkdirTemp("/tmp", "idem-bench-") //nolint:usetesting // b.TempDir is closed to the server's user
	require.NoError(b, err)
	require.NoError(b, os.Chmod(dir, 0o755))
	cluster, err := pgrun.Start(b.Context(), pgrun.Config{Dir: filepath.Join(dir, "pg")})
	require.NoError(b, err)
	b.Cleanup(func() {
		require.NoError(b, cluster.Stop(context.Background()))
		require.NoError(b, os.RemoveAll(dir))
	})
	return cluster
}

func openBench(b *testing.B, cluster *pgrun.Cluster, conns int32) *pg.DB {
	b.Helper()
	require.NoError(b, migrations.Up(b.Context(), "intake", cluster.URL("postgres")))
	conn, err := pgx.Connect(b.Context(), cluster.URL("postgres"))
	require.NoError(b, err)
	_, err = conn.Exec(b.Context(), "CREATE TABLE intake.tiny (n bigint); GRANT INSERT ON intake.tiny TO intake_app")
	require.NoError(b, err)
	require.NoError(b, conn.Close(b.Context()))
	db, err := pg.Open(b.Context(), pg.Config{URL: cluster.URLAs("intake_app", "", "postgres"), Schema: "intake", MaxConns: conns}, zap.NewNop())
	require.NoError(b, err)
	b.Cleanup(db.Close)
	return db
}

var tps = regexp.MustCompile(`tps = ([0-9.]+)`)

func pgbench(b *testing.B, cluster *pgrun.Cluster, clients int) float64 {
	b.Helper()
	bin, err := pgrun.FindBinaries()
	require.NoError(b, err)
	script := filepath.Join(b.TempDir(), "tiny.sql")
	require.NoError(b, os.WriteFile(script, []byte("INSERT INTO intake.tiny (n) VALUES (1);\n"), 0o600))
	out, err := exec.Command(filepath.Join(bin, "pgbench"), "-n", "-M", "prepared", "-f", script, "-c", strconv.Itoa(clients),
		"-j", "2", "-T", strconv.Itoa(int(pgbenchSlice.Seconds())), cluster.URL("postgres")).CombinedOutput()
	require.NoError(b, err, string(out))
	found := tps.FindSubmatch(out)
	require.NotNil(b, found, string(out))
	rate, err := strconv.ParseFloat(string(found[1]), 64)
	require.NoError(b, err)
	return rate
}

func drive(b *testing.B, db *pg.DB, streams int, path func(context.Context, *pg.DB) error) (rate float64, took []time.Duration) {
	b.Helper()
	var group sync.WaitGroup
	times := make([][]time.Duration, streams)
	began := time.Now()
	for i := range streams {
		group.Go(func() {
			for time.Since(began) < slice {
				start := time.Now()
				if err := path(b.Context(), db); err != nil {
					b.Error(err)
					return
				}
				times[i] = append(times[i], time.Since(start))
			}
		})
	}
	group.Wait()
	took = slices.Concat(times...)
	return float64(len(took)) / time.Since(began).Seconds(), took
}

func weighIn(ctx context.Context, db *pg.DB) error {
	_, err := idem.Do(ctx, db, clock.System, benchRequest(), func(ctx context.Context, tx pgx.Tx) (*feedv1.FeedSource, []feed.Fact, error) {
		_, err := tx.Exec(ctx, insertTiny)
		return benchAnswer, benchFacts, err
	})
	return err
}

func weighInShared(ctx context.Context, db *pg.DB) error {
	_, err := idem.DoShared(ctx, db, clock.System, benchRequest(), func(context.Context) (idem.Plan[*feedv1.FeedSource], error) {
		return idem.Plan[*feedv1.FeedSource]{Answer: benchAnswer, Facts: benchFacts, Write: func(b *pgx.Batch) { b.Queue(insertTiny) }}, nil
	})
	return err
}

const insertTiny = "INSERT INTO tiny (n) VALUES (1)"

var (
	benchAnswer = &feedv1.FeedSource{Name: "feedSources/stock"}
	benchFacts  = []feed.Fact{{Aggregate: "barrels/1", Payload: wrapperspb.String("net 642.5 LB")}}
)

func benchRequest() *feedv1.SkipFeedEventRequest {
	return &feedv1.SkipFeedEventRequest{RequestId: uuid.NewString(), Name: "feedSources/stock", Sequence: 4, Reason: "bench"}
}
