// Command testpg starts a private scratch PostgreSQL cluster, runs a command with BARRELHEAD_TEST_PG set to it, and stops
// the cluster again: go run ./deploy/testpg -- go test ./...
//
// Tests find a cluster without it; it is for runs that want one of their own, e.g. in CI. It exits as the command did.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"syscall"

	"barrelhead.example/services/kit/pgrun"
)

func main() {
	args := os.Args[1:]
	if len(args) > 0 && args[0] == "--" {
		args = args[1:]
	}
	if len(args) == 0 {
		fmt.Fprintln(os.Stderr, "usage: testpg -- command [argument ...]")
		os.Exit(2)
	}
	code, err := run(args)
	if err != nil {
		fmt.Fprintln(os.Stderr, "testpg:", err)
		code = 1
	}
	os.Exit(code)
}

func run(args []string) (code int, err error) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	dir, err := os.MkdirTemp(parent(memory), "barrelhead-testpg-")
	if err != nil {
		return 0, fmt.Errorf("make a folder for the cluster: %w", err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	// The server runs as another user when we are root; it must be able to pass.
	if err := os.Chmod(dir, 0o711); err != nil { //nolint:gosec // the cluster's own folder inside is closed
		return 0, fmt.Errorf("open the way to the cluster: %w", err)
	}
	cluster, err := pgrun.Start(ctx, pgrun.Config{Dir: filepath.Join(dir, "pg"), Scratch: true, MaxConnections: 600})
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, cluster.Stop(context.Background())) }()
	return command(ctx, args, cluster.URL("postgres"))
}

// memory is where files are kept in memory, and room what must be free there: a scratch cluster takes a fraction of it, and half of the
// machine's memory is the most there is.
const memory, room = "/dev/shm", 8 << 30

// parent is dir where it is in memory and has room, else empty, which is the usual place of temporary files. Making and dropping a
// database for each test is a thousand small files, which on a disk take longer than many a test.
func parent(dir string) string {
	const tmpfs = 0x01021994
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil || fs.Type != tmpfs || fs.Bavail*uint64(fs.Bsize) < room { //nolint:gosec // sizes are not negative
		return ""
	}
	return dir
}

// command passes an interrupt on and waits: the cluster must not go before its user.
func command(ctx context.Context, args []string, url string) (int, error) {
	cmd := exec.CommandContext(ctx, args[0], args[1:]...) //nolint:gosec // running the given command is the purpose
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
	cmd.Env = append(os.Environ(), "BARRELHEAD_TEST_PG="+url)
	err := cmd.Run()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return max(exit.ExitCode(), 1), nil
	}
	return 0, err
}
