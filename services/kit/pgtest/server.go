package pgtest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// serverVariable names a running server by the URL of its superuser.
const serverVariable = "BARRELHEAD_TEST_PG"

var shared struct {
	sync.Mutex
	url string
	use *os.File
}

// serverURL is the superuser's URL of the server all tests of this process use.
func serverURL(ctx context.Context) (string, error) {
	if url := os.Getenv(serverVariable); url != "" {
		return url, nil
	}
	shared.Lock()
	defer shared.Unlock()
	if shared.url != "" {
		return shared.url, nil
	}
	url, err := joinCluster(ctx)
	if err != nil {
		return "", err
	}
	shared.url = url
	return url, nil
}

// place is the folder through which the test processes of one user find their cluster. The version is that of the
// rules between them: a process with other rules uses another cluster.
func place() string {
	return filepath.Join(os.TempDir(), fmt.Sprintf("barrelhead-test-%d-v1", os.Geteuid()))
}

func stateFile() string { return filepath.Join(place(), "state.json") }

type state struct {
	URL string `json:"url"`
	PID int    `json:"keeper_pid"`
}

// joinCluster counts this process among the users of the cluster and starts the cluster if it does not run.
func joinCluster(ctx context.Context) (url string, err error) {
	if err := openPlace(); err != nil {
		return "", err
	}
	// Never given up: it ends with the process, however it ends. It is kept in a variable because a file nobody refers to
	// is closed by the garbage collector, and the lock with it.
	if shared.use, err = lockFile("users", syscall.LOCK_SH); err != nil {
		return "", err
	}
	gate, err := lockFile("start", syscall.LOCK_EX)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, gate.Close()) }()
	if url, ok := running(ctx); ok {
		return url, nil
	}
	if err := startKeeper(); err != nil {
		return "", err
	}
	return awaitCluster(ctx)
}

func openPlace() error {
	// Others may pass through (the server runs as another user when we are root) but not look around.
	if err := os.Mkdir(place(), 0o711); err != nil && !errors.Is(err, os.ErrExist) { //nolint:gosec // others pass through, see above
		return fmt.Errorf("make the folder of the test cluster: %w", err)
	}
	info, err := os.Lstat(place())
	if err != nil {
		return fmt.Errorf("inspect the folder of the test cluster: %w", err)
	}
	if stat, ok := info.Sys().(*syscall.Stat_t); !ok || !info.IsDir() || int(stat.Uid) != os.Geteuid() {
		return fmt.Errorf("%s was made by somebody else: remove it or set %s", place(), serverVariable)
	}
	return nil
}

func lockFile(name string, how int) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(place(), name+".lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the %s lock: %w", name, err)
	}
	for {
		err = syscall.Flock(int(f.Fd()), how)
		if !errors.Is(err, syscall.EINTR) {
			break
		}
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("take the %s lock: %w", name, err), f.Close())
	}
	return f, nil
}

// running asks the server itself: a state file proves nothing after a crash.
func running(ctx context.Context) (string, bool) {
	b, err := os.ReadFile(stateFile())
	if err != nil {
		return "", false
	}
	var s state
	if json.Unmarshal(b, &s) != nil {
		return "", false
	}
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	conn, err := pgx.Connect(ctx, s.URL)
	if err != nil {
		return "", false
	}
	return s.URL, conn.Close(ctx) == nil
}

// startKeeper runs this very test binary once more as the keeper of the cluster, in a session of its own so that it
// outlives the test run that happened to come first.
func startKeeper() error {
	if err := os.Remove(stateFile()); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("remove the state of a dead cluster: %w", err)
	}
	self, err := os.Executable()
	if err != nil {
		return fmt.Errorf("find the test binary: %w", err)
	}
	log, err := os.OpenFile(filepath.Join(place(), "keeper.log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return fmt.Errorf("open the keeper's log: %w", err)
	}
	defer log.Close()
	cmd := exec.Command(self) //nolint:gosec,noctx // our own binary, meant to outlive this process
	cmd.Env = append(os.Environ(), keeperVariable+"="+place())
	cmd.Dir, cmd.Stdout, cmd.Stderr = "/", log, log
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("start the keeper of the test cluster: %w", err)
	}
	return cmd.Process.Release()
}

func awaitCluster(ctx context.Context) (string, error) {
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		if url, ok := running(ctx); ok {
			return url, nil
		}
		select {
		case <-ctx.Done():
			return "", fmt.Errorf("the test cluster did not start, see %s: %w", filepath.Join(place(), "keeper.log"), ctx.Err())
		case <-tick.C:
		}
	}
}
