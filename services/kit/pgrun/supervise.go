package pgrun

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"
)

const (
	// mostFailedStarts in a row, each at least restartPause apart, before giving up. It must outlast the backends of a
	// killed server, which hold its shared memory for a moment.
	mostFailedStarts = 12
	restartPause     = 300 * time.Millisecond
	readyPoll        = 10 * time.Millisecond
)

// supervise starts the server, again after every crash. It keeps its OS thread to itself for good: the kernel's "tell
// the child when its parent dies" watches the thread that forked, not the process.
func (c *Cluster) supervise() {
	runtime.LockOSThread()
	defer close(c.done)
	defer c.release()
	failed := 0
	for {
		wasReady, err := c.runOnce()
		if c.stopping() {
			return
		}
		if wasReady {
			failed = 0
		}
		if failed++; failed >= mostFailedStarts {
			c.err = fmt.Errorf("the server ended %d times in a row, last: %w; its log ends: %s", failed, err, c.config.logTail())
			return
		}
		c.config.Logf("the database server ended unexpectedly (%v), starting it again", err)
		select {
		case <-c.stop:
			return
		case <-time.After(restartPause):
		}
	}
}

func (c *Cluster) stopping() bool {
	select {
	case <-c.stop:
		return true
	default:
		return false
	}
}

// runOnce returns when the server has ended, and whether it had ever been ready.
func (c *Cluster) runOnce() (wasReady bool, err error) {
	cmd, err := c.launch()
	if err != nil {
		return false, err
	}
	exited, ready := make(chan struct{}), make(chan bool, 1)
	go func() { ready <- c.watchReady(cmd.Process.Pid, exited) }()
	err = cmd.Wait()
	close(exited)
	c.mu.Lock()
	c.proc = nil
	c.mu.Unlock()
	if err == nil {
		err = errors.New("clean exit nobody asked for")
	}
	return <-ready, err
}

func (c *Cluster) launch() (*exec.Cmd, error) {
	port, err := c.choosePort()
	if err != nil {
		return nil, err
	}
	logFile, err := os.OpenFile(c.config.logFile(), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the server's log: %w", err)
	}
	defer logFile.Close()
	cmd := exec.Command(filepath.Join(c.config.BinDir, "postgres"), c.config.arguments(port, c.socketDir)...) //nolint:gosec,noctx // own binary folder; it outlives the context of Start by design
	cmd.Dir, cmd.Env, cmd.Stdout, cmd.Stderr = "/", cleanEnv(), logFile, logFile
	// Its own process group: Ctrl-C in a terminal must reach us first, so that services can finish before their database.
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.id.credential(), Setpgid: true, Pdeathsig: syscall.SIGQUIT}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.stopping() {
		return nil, errors.New("stopped before it was started")
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("run %s: %w", cmd.Path, err)
	}
	c.port, c.proc = port, cmd.Process
	return cmd, nil
}

func (c *Cluster) choosePort() (int, error) {
	switch {
	case !c.config.TCP:
		return defaultSocketPort, nil
	case c.config.Port != 0:
		return c.config.Port, nil
	default:
		return freePort()
	}
}

// watchReady reads the status line the server keeps in its pid file, as the server's own control tool does.
func (c *Cluster) watchReady(pid int, exited <-chan struct{}) bool {
	tick := time.NewTicker(readyPoll)
	defer tick.Stop()
	for {
		if c.isReady(pid) {
			c.upOnce.Do(func() { close(c.up) })
			return true
		}
		select {
		case <-exited:
			return false
		case <-tick.C:
		}
	}
}

func (c *Cluster) isReady(pid int) bool {
	f, err := os.Open(filepath.Join(c.config.dataDir(), "postmaster.pid"))
	if err != nil {
		return false
	}
	defer f.Close()
	var lines []string
	for s := bufio.NewScanner(f); s.Scan(); {
		lines = append(lines, strings.TrimSpace(s.Text()))
	}
	const statusLine = 7
	return len(lines) > statusLine && lines[0] == strconv.Itoa(pid) && lines[statusLine] == "ready"
}

// release gives up the socket directory outside the cluster's own and the lock, in this order.
func (c *Cluster) release() {
	if filepath.Dir(c.socketDir) != c.config.Dir {
		// Left behind it is an empty directory that the next start reuses.
		_ = os.Remove(c.socketDir)
	}
	if err := c.lock.Close(); err != nil {
		c.config.Logf("give up the launcher's lock: %v", err)
	}
}
