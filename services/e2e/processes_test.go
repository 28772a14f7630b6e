package e2e

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/certs"
	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgrun"
)

var names = []string{"intake", "grading", "inventory", "settlement", "gateway"}

// processes is the suite as separate programs, as a larger cooperative runs it, so that each can be killed alone.
type processes struct {
	dir      string
	binaries string
	cluster  *pgrun.Cluster
	settings map[string]config.Service

	mu      sync.Mutex
	running map[string]*exec.Cmd
	killed  map[string]int
}

func startProcesses(t *testing.T) *processes {
	t.Helper()
	p := &processes{dir: t.TempDir(), running: map[string]*exec.Cmd{}, killed: map[string]int{}}
	p.build(t)
	p.cluster = startCluster(t, p.dir)
	databases, err := suite.Migrate(t.Context(), p.cluster)
	require.NoError(t, err)
	p.configure(t, databases)
	for _, name := range names {
		p.start(t, name)
	}
	t.Cleanup(p.stop)
	return p
}

// startCluster runs a durable PostgreSQL in dir, or beside it where its user may not look into dir.
func startCluster(t *testing.T, dir string) *pgrun.Cluster {
	t.Helper()
	place, err := pgrun.Place(dir, os.TempDir()) //nolint:usetesting // the second choice where the server's user cannot look into the first
	require.NoError(t, err)
	home, err := os.MkdirTemp(place, "kill") //nolint:usetesting // in the place that was chosen
	require.NoError(t, err)
	require.NoError(t, os.Chmod(home, 0o755)) // PostgreSQL runs as another user when we are root
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(home)) })
	cluster, err := pgrun.Start(t.Context(), pgrun.Config{Dir: filepath.Join(home, "postgres")})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, cluster.Stop(context.Background())) })
	return cluster
}

func (p *processes) build(t *testing.T) {
	t.Helper()
	p.binaries = filepath.Join(p.dir, "bin")
	args := []string{"build", "-o", p.binaries + "/"}
	if raceFlag != "" {
		args = append(args, raceFlag)
	}
	for _, name := range names[:4] {
		args = append(args, "barrelhead.example/services/"+name+"/cmd/"+name)
	}
	require.NoError(t, os.Mkdir(p.binaries, 0o750))
	out, err := exec.CommandContext(t.Context(), "go", append(args, "barrelhead.example/gateway/cmd/gateway")...).CombinedOutput()
	require.NoError(t, err, "%s", out)
}

func (p *processes) configure(t *testing.T, databases map[string]string) {
	t.Helper()
	dir := filepath.Join(p.dir, "certs")
	_, err := certs.Ensure(dir, certs.Names(), time.Now())
	require.NoError(t, err)
	peers, addresses := map[string]string{}, map[string]string{}
	for _, name := range names {
		addresses[name] = freeAddress(t)
		if name != "gateway" {
			peers[name] = addresses[name]
		}
	}
	p.settings = map[string]config.Service{}
	for _, name := range names {
		p.settings[name] = config.Service{
			Name: name, Listen: addresses[name], Database: config.Database{URL: databases[name]}, TLS: certs.Files(dir, name),
			Peers: peers, Cooperative: fallowCreek, LogLevel: "warn",
		}
		text, err := json.Marshal(p.settings[name])
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(p.config(name), text, 0o600))
	}
}

func freeAddress(t *testing.T) string {
	t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { require.NoError(t, lis.Close()) }()
	return lis.Addr().String()
}

func (p *processes) config(name string) string { return filepath.Join(p.dir, name+".json") }

func (p *processes) start(t *testing.T, name string) {
	t.Helper()
	log, err := os.OpenFile(filepath.Join(p.dir, name+".log"), os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	require.NoError(t, err)
	cmd := exec.Command(filepath.Join(p.binaries, name), "-config", p.config(name)) // it outlives the call
	cmd.Stdout, cmd.Stderr = log, log
	require.NoError(t, cmd.Start())
	require.NoError(t, log.Close())
	p.mu.Lock()
	defer p.mu.Unlock()
	p.running[name] = cmd
}

// kill ends a process without warning and starts it again.
func (p *processes) kill(t *testing.T, name string) {
	t.Helper()
	p.killed[name]++
	if name == "postgres" {
		require.NoError(t, syscall.Kill(p.cluster.PID(), syscall.SIGKILL))
		return // the launcher starts it again and it recovers from its log
	}
	cmd := p.running[name]
	require.NoError(t, cmd.Process.Kill())
	require.Error(t, cmd.Wait(), "%s had ended by itself: %s", name, p.log(name))
	p.start(t, name)
}

func (p *processes) log(name string) string {
	text, err := os.ReadFile(filepath.Join(p.dir, name+".log"))
	return fmt.Sprintf("%s %v", text, err)
}

func (p *processes) stop() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, cmd := range p.running {
		_ = cmd.Process.Signal(syscall.SIGTERM) // it may have ended already
	}
	for _, cmd := range p.running {
		_ = cmd.Wait() // what it ended with says nothing: it may have been killed
	}
}
