package pgtest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"barrelhead.example/services/kit/pgrun"
)

const (
	keeperVariable = "BARRELHEAD_TEST_PG_KEEPER"
	// idleChecks in a row, checkPause apart, without any test process before the cluster goes away.
	idleChecks = 30
	checkPause = 2 * time.Second
)

// A test binary started with the keeper's variable is no test run but the keeper. It must be told apart before flags are
// parsed and tests are listed, and a package has no earlier place than this.
func init() {
	if os.Getenv(keeperVariable) == "" {
		return
	}
	if err := keep(); err != nil {
		fmt.Fprintln(os.Stderr, "keeper of the test cluster:", err)
		os.Exit(1)
	}
	os.Exit(0)
}

// keep runs the cluster until nobody needs it and removes every trace of it.
func keep() error {
	dir := filepath.Join(place(), fmt.Sprintf("cluster-%d", os.Getpid()))
	if err := clearOldClusters(); err != nil {
		return err
	}
	cluster, err := pgrun.Start(context.Background(), pgrun.Config{Dir: dir, Scratch: true, MaxConnections: 600})
	if err != nil {
		return err
	}
	err = serve(cluster)
	return errors.Join(err, cluster.Stop(context.Background()), os.RemoveAll(dir))
}

// clearOldClusters removes what a killed keeper left. The start lock is held by whoever started us, so no second keeper
// is about.
func clearOldClusters() error {
	dirs, err := filepath.Glob(filepath.Join(place(), "cluster-*"))
	if err != nil {
		return fmt.Errorf("look for old clusters: %w", err)
	}
	for _, dir := range dirs {
		if err := os.RemoveAll(dir); err != nil {
			return fmt.Errorf("remove an old cluster: %w", err)
		}
	}
	return nil
}

func serve(cluster *pgrun.Cluster) error {
	if err := announce(cluster); err != nil {
		return err
	}
	tick := time.NewTicker(checkPause)
	defer tick.Stop()
	for idle := 0; idle < idleChecks; {
		select {
		case <-cluster.Done():
			return errors.Join(errors.New("the cluster ended"), os.Remove(stateFile()))
		case <-tick.C:
		}
		if inUse() {
			idle = 0
		} else {
			idle++
		}
	}
	return retire(cluster)
}

// announce writes aside and renames: a reader sees the whole state or none.
func announce(cluster *pgrun.Cluster) error {
	b, err := json.Marshal(state{URL: cluster.URL("postgres"), PID: os.Getpid()})
	if err != nil {
		return fmt.Errorf("render the state: %w", err)
	}
	if err := os.WriteFile(stateFile()+".new", b, 0o600); err != nil {
		return fmt.Errorf("write the state: %w", err)
	}
	return os.Rename(stateFile()+".new", stateFile())
}

// inUse tries for a moment to be the only one: test processes hold the lock shared for as long as they live.
func inUse() bool {
	f, err := lockFile("users", syscall.LOCK_EX|syscall.LOCK_NB)
	if err != nil {
		return true
	}
	return f.Close() != nil
}

// retire withdraws the announcement under the start lock, where nobody can be between reading it and relying on it. A
// user who came at the last moment keeps the cluster alive.
func retire(cluster *pgrun.Cluster) error {
	gate, err := lockFile("start", syscall.LOCK_EX)
	if err != nil {
		return err
	}
	if inUse() {
		return errors.Join(gate.Close(), serve(cluster))
	}
	return errors.Join(os.Remove(stateFile()), cluster.Stop(context.Background()), gate.Close())
}
