package blend

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"
)

// verdict is what the outside solver says of a model.
type verdict struct {
	infeasible bool
	cost       int64
	columns    map[int]bool // at one, from 1
}

// glpsol asks the general solver of the Debian package glpk-utils, which nobody here wrote. Without it the tests fail.
func glpsol(dir string, format Format, orders []Order, barrels []Barrel) (verdict, error) {
	var text bytes.Buffer
	if err := Export(&text, format, orders, barrels); err != nil {
		return verdict{}, err
	}
	in, out := filepath.Join(dir, "model"), filepath.Join(dir, "answer")
	if err := os.WriteFile(in, text.Bytes(), 0o600); err != nil {
		return verdict{}, err
	}
	flag := map[Format]string{LP: "--lp", MPS: "--freemps"}[format]
	said, err := exec.Command("glpsol", flag, in, "--mipgap", "0", "--tmlim", "300", "-w", out).CombinedOutput()
	if err != nil {
		return verdict{}, fmt.Errorf("glpsol (package glpk-utils): %w\n%s", err, said)
	}
	answer, err := os.ReadFile(out)
	if err != nil {
		return verdict{}, err
	}
	return readAnswer(string(said), string(answer))
}

// readAnswer never takes the exit code or an objective of 0 for an answer: glpsol ends well without a plan too.
func readAnswer(said, answer string) (verdict, error) {
	v := verdict{columns: map[int]bool{}}
	solved := false
	for line := range strings.Lines(answer) {
		f := strings.Fields(line)
		switch {
		case len(f) == 6 && f[0] == "s" && f[1] == "mip" && f[4] == "o":
			cost, err := strconv.ParseFloat(f[5], 64)
			if err != nil {
				return v, err
			}
			v.cost, solved = int64(cost), true
		case len(f) == 3 && f[0] == "j" && f[2] == "1":
			column, err := strconv.Atoi(f[1])
			if err != nil {
				return v, err
			}
			v.columns[column] = true
		}
	}
	if solved {
		return v, nil
	}
	for _, no := range []string{"HAS NO PRIMAL FEASIBLE SOLUTION", "HAS NO INTEGER FEASIBLE SOLUTION"} {
		if strings.Contains(said, no) {
			return verdict{infeasible: true}, nil
		}
	}
	return v, fmt.Errorf("glpsol gave no verdict:\n%s", said)
}

// inParallel runs check for every seed on both cores; the first fault ends it.
func inParallel(t *testing.T, seeds uint64, check func(dir string, seed uint64) error) {
	t.Helper()
	var g errgroup.Group
	g.SetLimit(2)
	root := t.TempDir()
	for seed := range seeds {
		g.Go(func() error {
			dir := filepath.Join(root, strconv.FormatUint(seed, 10))
			if err := os.Mkdir(dir, 0o700); err != nil {
				return err
			}
			if err := check(dir, seed); err != nil {
				return fmt.Errorf("seed %d: %w", seed, err)
			}
			return nil
		})
	}
	require.NoError(t, g.Wait())
}

func TestAnOutsideSolverAgreesOnEveryInstance(t *testing.T) {
	t.Parallel()
	const instances = 150
	feasible := make([]bool, instances)
	inParallel(t, instances, func(dir string, seed uint64) error {
		o, barrels := instance(seed+10_000, 10+int(seed%15))
		plan, err := Choose(o, barrels, Options{})
		if err != nil {
			return err
		}
		theirs, err := glpsol(dir, []Format{LP, MPS}[seed%2], []Order{o}, barrels)
		if err != nil {
			return err
		}
		feasible[seed] = !theirs.infeasible
		switch {
		case theirs.infeasible != (plan.Status == Infeasible):
			return fmt.Errorf("ours %s, theirs infeasible %v", plan.Status, theirs.infeasible)
		case !theirs.infeasible && (plan.Status != Proved || int64(plan.Cost) != theirs.cost):
			return fmt.Errorf("ours %s at %d, theirs %d", plan.Status, int64(plan.Cost), theirs.cost)
		}
		return nil
	})
	found := 0
	for _, is := range feasible {
		found += int(boolean(is))
	}
	t.Logf("%d with a plan, %d without: no difference", found, instances-found)
	require.Greater(t, found, instances/4)
	require.Greater(t, instances-found, instances/3)
}
