package pgrun

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"
)

// defaultSocketPort only names the socket file; no TCP port is taken without Config.TCP.
const defaultSocketPort = 5432

// Cluster is a running private server.
type Cluster struct {
	config    Config
	id        identity
	socketDir string
	password  string
	lock      *os.File

	up       chan struct{} // closed when the server is ready for the first time
	upOnce   sync.Once
	stop     chan struct{} // closed by Stop: an exit from now on is no crash
	stopOnce sync.Once
	done     chan struct{} // closed when the supervisor has given up or finished
	err      error         // why, readable after done

	mu   sync.Mutex
	port int
	proc *os.Process
}

// Start makes the cluster if there is none, starts it and returns when it accepts connections. It fails when another
// process runs the same cluster, when no server is installed, and when the server does not come up; the error then ends
// with the server's own log.
func Start(ctx context.Context, config Config) (*Cluster, error) {
	if err := config.fill(); err != nil {
		return nil, err
	}
	id, err := serverIdentity()
	if err != nil {
		return nil, err
	}
	if err := config.prepare(ctx, id); err != nil {
		return nil, err
	}
	c := &Cluster{
		config: config, id: id, socketDir: config.socketDir(),
		up: make(chan struct{}), stop: make(chan struct{}), done: make(chan struct{}),
	}
	if err := c.takeLock(); err != nil {
		return nil, err
	}
	if err := c.readyDirs(); err != nil {
		return nil, errors.Join(err, c.lock.Close())
	}
	go c.supervise()
	return c.awaitUp(ctx)
}

func (c *Cluster) awaitUp(ctx context.Context) (*Cluster, error) {
	timer := time.NewTimer(c.config.StartTimeout)
	defer timer.Stop()
	var cause error
	select {
	case <-c.up:
		return c, nil
	case <-c.done:
		return nil, fmt.Errorf("start PostgreSQL in %s: %w", c.config.Dir, c.err)
	case <-ctx.Done():
		cause = ctx.Err()
	case <-timer.C:
		cause = fmt.Errorf("not ready within %s: %s", c.config.StartTimeout, c.config.logTail())
	}
	return nil, fmt.Errorf("start PostgreSQL in %s: %w", c.config.Dir, errors.Join(cause, c.Stop(context.WithoutCancel(ctx))))
}

// takeLock keeps two launchers from one cluster. The kernel drops it with the process, so it cannot go stale.
func (c *Cluster) takeLock() error {
	f, err := os.OpenFile(filepath.Join(c.config.Dir, "launcher.lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return fmt.Errorf("open the launcher's lock: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return errors.Join(&RunningError{Dir: c.config.Dir}, f.Close())
	}
	c.lock = f
	return nil
}

func (c *Cluster) readyDirs() error {
	if err := c.id.own(c.socketDir, 0o700); err != nil {
		return err
	}
	password, err := os.ReadFile(c.config.passwordFile())
	if err != nil {
		return fmt.Errorf("read the cluster's password: %w", err)
	}
	c.password = strings.TrimSpace(string(password))
	return nil
}

// URL connects as the cluster's superuser through the socket.
func (c *Cluster) URL(database string) string { return c.URLAs(superuser, "", database) }

// URLAs connects as another role through the socket, which trusts everybody who may enter its directory.
func (c *Cluster) URLAs(role, password, database string) string {
	q := url.Values{"host": {c.socketDir}, "port": {fmt.Sprint(c.Port())}, "sslmode": {"disable"}}
	u := url.URL{Scheme: "postgres", User: userinfo(role, password), Path: "/" + database, RawQuery: q.Encode()}
	return u.String()
}

// TCPURL connects as the superuser over loopback; only with Config.TCP, and only until a restart picks another port.
func (c *Cluster) TCPURL(database string) string {
	u := url.URL{
		Scheme: "postgres", User: userinfo(superuser, c.password), Path: "/" + database,
		Host: fmt.Sprintf("127.0.0.1:%d", c.Port()), RawQuery: "sslmode=disable",
	}
	return u.String()
}

func userinfo(role, password string) *url.Userinfo {
	if password == "" {
		return url.User(role)
	}
	return url.UserPassword(role, password)
}

// Port is the TCP port, or the number in the socket's name without TCP.
func (c *Cluster) Port() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.port
}

// PID is the server's process id, 0 while it is down.
func (c *Cluster) PID() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.proc == nil {
		return 0
	}
	return c.proc.Pid
}

// Done is closed when the cluster is gone for good: stopped, or given up after repeated crashes (then Err tells why).
func (c *Cluster) Done() <-chan struct{} { return c.done }

// Err is nil until Done is closed, and nil after an ordinary Stop.
func (c *Cluster) Err() error {
	select {
	case <-c.done:
		return c.err
	default:
		return nil
	}
}

// Stop ends all sessions, writes a checkpoint and waits for the exit. Past 30 s, or when ctx ends, it becomes an
// immediate stop, from which the next start recovers. Stopping twice is harmless.
func (c *Cluster) Stop(ctx context.Context) error {
	c.stopOnce.Do(func() { close(c.stop) })
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	c.signal(syscall.SIGINT)
	select {
	case <-c.done:
	case <-ctx.Done():
		c.signal(syscall.SIGQUIT)
		select {
		case <-c.done:
		case <-time.After(5 * time.Second):
			c.signal(syscall.SIGKILL)
			<-c.done
		}
	}
	return c.err
}

func (c *Cluster) signal(s syscall.Signal) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.proc != nil {
		// The only failure is "already finished", which is what the signal asks for.
		_ = c.proc.Signal(s)
	}
}
