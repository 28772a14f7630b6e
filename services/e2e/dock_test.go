package e2e

import (
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/resolver"
	"google.golang.org/grpc/resolver/manual"

	"barrelhead.example/deploy/certs"
	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgrun"
	"barrelhead.example/services/kit/rpcdial"
)

// docks are two replicas of the intake binary on one durable PostgreSQL, started again whenever they end, as an orchestrator does.
type docks struct {
	dir       string
	binary    string
	cluster   *pgrun.Cluster
	replicas  [2]replica
	addresses []string

	processes, backends, crashes atomic.Int64
}

type replica struct {
	config string
	mu     sync.Mutex
	cmd    *exec.Cmd
}

func startDocks(t *testing.T) *docks {
	t.Helper()
	d := &docks{dir: t.TempDir()}
	d.binary = filepath.Join(d.dir, "intake")
	args := []string{"build", "-o", d.binary}
	if raceFlag != "" {
		args = append(args, raceFlag)
	}
	out, err := exec.CommandContext(t.Context(), "go", append(args, "barrelhead.example/services/intake/cmd/intake")...).CombinedOutput()
	require.NoError(t, err, "%s", out)
	d.cluster = startCluster(t, d.dir)
	databases, err := suite.Migrate(t.Context(), d.cluster)
	require.NoError(t, err)
	_, err = certs.Ensure(d.dir, certs.Names(), time.Now())
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	t.Cleanup(func() {
		stop()
		running.Wait()
	})
	for i := range d.replicas {
		r := &d.replicas[i]
		address := freeAddress(t)
		d.addresses = append(d.addresses, address)
		r.config = filepath.Join(d.dir, string(rune('a'+i))+".json")
		text, err := json.Marshal(config.Service{
			Name: "intake", Listen: address, Database: config.Database{URL: databases["intake"]}, TLS: certs.Files(d.dir, "intake"),
			Cooperative: fallowCreek, LogLevel: "error",
		})
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(r.config, text, 0o600))
		running.Go(func() { d.supervise(ctx, t, r) })
	}
	return d
}

// supervise starts a replica again until ctx ends: it is killed, and it gives up by itself when the database is not there.
func (d *docks) supervise(ctx context.Context, t *testing.T, r *replica) {
	for ctx.Err() == nil {
		cmd := exec.CommandContext(ctx, d.binary, "-config", r.config)
		cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
		log, err := os.OpenFile(r.config+".log", os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
		if err != nil {
			t.Error(err)
			return
		}
		cmd.Stdout, cmd.Stderr = log, log
		r.mu.Lock()
		err = cmd.Start()
		r.cmd = cmd
		r.mu.Unlock()
		if err != nil {
			t.Error(err, log.Close())
			return
		}
		_ = cmd.Wait() // what it ended with says nothing: it was killed, or could not reach the database
		_ = log.Close()
		pauseFor(ctx, time.Duration(200+rand.IntN(800))*time.Millisecond)
	}
}

// dial opens a connection of its own, spread over the replicas as a balanced client is, with the certificate of a service.
func (d *docks) dial(t *testing.T, as string) *grpc.ClientConn {
	t.Helper()
	known := manual.NewBuilderWithScheme("docks")
	state := resolver.State{}
	for _, address := range d.addresses {
		state.Endpoints = append(state.Endpoints, resolver.Endpoint{Addresses: []resolver.Address{{Addr: address}}})
	}
	known.InitialState(state)
	conn, err := rpcdial.Dial(t.Context(), config.Service{
		TLS: certs.Files(d.dir, as), Peers: map[string]string{"intake": "docks:///intake"},
	}, "intake", grpc.WithResolvers(known))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close()) })
	return conn
}

// killProcesses kills one replica after the other, at random, until ctx ends.
func (d *docks) killProcesses(ctx context.Context, t *testing.T) {
	for pauseFor(ctx, time.Duration(4000+rand.IntN(4000))*time.Millisecond) {
		r := &d.replicas[rand.IntN(len(d.replicas))]
		r.mu.Lock()
		err := r.cmd.Process.Kill()
		r.mu.Unlock()
		switch {
		case err == nil:
			d.processes.Add(1)
		case !errors.Is(err, os.ErrProcessDone):
			t.Error(err)
		}
	}
}

// killBackends ends sessions of the service until ctx ends. Most are told to; now and then one is killed outright, after which
// PostgreSQL throws all of them out and recovers from its log.
func (d *docks) killBackends(ctx context.Context, t *testing.T) {
	crash := time.Now().Add(crashEvery)
	for pauseFor(ctx, time.Duration(50+rand.IntN(150))*time.Millisecond) {
		outright := time.Now().After(crash)
		if outright {
			crash = time.Now().Add(crashEvery)
		}
		if err := d.killBackend(ctx, outright); err != nil && !recovering(err) && ctx.Err() == nil {
			t.Error(err)
			return
		}
	}
}

const (
	crashEvery = 17 * time.Second
	sessions   = `FROM pg_stat_activity WHERE usename = 'intake_app' AND backend_type = 'client backend' ORDER BY random() LIMIT 1`
)

func (d *docks) killBackend(ctx context.Context, outright bool) (err error) {
	conn, err := pgx.Connect(ctx, d.cluster.URL("postgres"))
	if err != nil {
		return err
	}
	defer func() { _ = conn.Close(context.WithoutCancel(ctx)) }()
	if !outright {
		tag, err := conn.Exec(ctx, `SELECT pg_terminate_backend(pid) FROM (SELECT pid `+sessions+`) victim`)
		d.backends.Add(tag.RowsAffected())
		return err
	}
	var pid int
	if err := conn.QueryRow(ctx, `SELECT pid `+sessions).Scan(&pid); err != nil {
		return err
	}
	if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
		return err
	}
	d.crashes.Add(1)
	return nil
}

// recovering are failures of a PostgreSQL that just lost a session outright, or had none to lose.
func recovering(err error) bool {
	var refused interface{ SQLState() string }
	if errors.As(err, &refused) {
		switch refused.SQLState() {
		case "57P01", "57P02", "57P03":
			return true
		}
		return false
	}
	return true // the connection itself
}

func pauseFor(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}
