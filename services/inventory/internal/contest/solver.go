package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"barrelhead.example/services/inventory/internal/domain/blend"
)

// model is an instance written down for outside solvers.
type model struct {
	dir, lp, mps string
	names        []string // of the columns, in their order
	orders       int
	ids          []string
}

func export(orders []blend.Order, barrels []blend.Barrel) (*model, error) {
	dir, err := os.MkdirTemp("", "contest")
	if err != nil {
		return nil, err
	}
	m := &model{dir: dir, lp: filepath.Join(dir, "model.lp"), mps: filepath.Join(dir, "model.mps"), orders: len(orders)}
	for _, b := range barrels {
		m.ids = append(m.ids, b.ID) // made in the order of their ids
	}
	for path, format := range map[string]blend.Format{m.lp: blend.LP, m.mps: blend.MPS} {
		if err := write(path, format, orders, barrels); err != nil {
			return nil, err
		}
	}
	return m, m.readNames()
}

func write(path string, format blend.Format, orders []blend.Order, barrels []blend.Barrel) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := blend.Export(f, format, orders, barrels); err != nil {
		_ = f.Close()
		return err
	}
	return f.Close()
}

// readNames reads the columns off the objective, which names all of them.
func (m *model) readNames() error {
	raw, err := os.ReadFile(m.lp)
	if err != nil {
		return err
	}
	_, rest, _ := strings.Cut(string(raw), "cost:")
	objective, _, _ := strings.Cut(rest, "Subject To")
	for line := range strings.Lines(objective) {
		if f := strings.Fields(line); len(f) == 2 {
			m.names = append(m.names, f[1])
		}
	}
	return nil
}

// verdict is what a solver said. picks is nil when it has no plan.
type verdict struct {
	infeasible, optimal bool
	picks               [][]string
	cpu                 float64
}

// ask runs a solver. Its exit code and the objective it prints are not believed: glpsol ends well, with an objective of 0,
// when it ran out of time without a plan.
func (m *model) ask(ctx context.Context, name string, limit time.Duration) (verdict, error) {
	out := filepath.Join(m.dir, name+".out")
	seconds := strconv.Itoa(max(1, int(limit.Seconds())))
	var args []string
	switch name {
	case "glpsol":
		args = []string{"--lp", m.lp, "--mipgap", "0.0001", "--tmlim", seconds, "-w", out}
	case "cbc":
		// It misreads the bounds of some free MPS files, hence the LP file.
		args = []string{m.lp, "sec", seconds, "ratio", "0.0001", "solve", "solu", out}
	case "lp_solve":
		args = []string{"-fmps", m.mps, "-ga", "0", "-gr", "0.0001", "-timeout", seconds, "-S4"}
	default:
		return verdict{}, fmt.Errorf("solver %q is unknown: use glpsol, cbc or lp_solve", name)
	}
	// Reading a large file is not in their own limit.
	ctx, cancel := context.WithTimeout(ctx, 2*limit+5*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, name, args...) //nolint:gosec // one of the three names above
	said, err := cmd.CombinedOutput()
	if err != nil && cmd.ProcessState == nil {
		return verdict{}, fmt.Errorf("%s: %w", name, err)
	}
	v := verdict{cpu: (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()}
	text := string(said)
	answer, err := os.ReadFile(out)
	if err != nil {
		answer = nil
	}
	switch name {
	case "glpsol":
		m.readGLPK(&v, text, string(answer))
	case "cbc":
		m.readCBC(&v, string(answer))
	default:
		m.readLPSolve(&v, text)
	}
	return v, nil
}

func (m *model) readGLPK(v *verdict, said, answer string) {
	v.infeasible = strings.Contains(said, "HAS NO PRIMAL FEASIBLE SOLUTION") || strings.Contains(said, "HAS NO INTEGER FEASIBLE SOLUTION")
	for line := range strings.Lines(answer) {
		f := strings.Fields(line)
		if len(f) == 6 && f[0] == "s" && f[1] == "mip" && (f[4] == "o" || f[4] == "f") {
			// Within the gap it stops and calls its plan feasible.
			v.optimal = f[4] == "o" || strings.Contains(said, "MIP GAP TOLERANCE REACHED")
			v.picks = make([][]string, m.orders)
		}
		if len(f) == 3 && f[0] == "j" && f[2] == "1" && v.picks != nil {
			if n, err := strconv.Atoi(f[1]); err == nil && n <= len(m.names) {
				m.pick(v, m.names[n-1])
			}
		}
	}
}

// whole is how far from a whole number a solver takes for whole.
const whole = 1e-4

func (m *model) readCBC(v *verdict, answer string) {
	head, rest, _ := strings.Cut(answer, "\n")
	v.infeasible = strings.Contains(head, "nfeasible")
	v.optimal = strings.HasPrefix(head, "Optimal")
	if v.infeasible || rest == "" {
		return
	}
	v.picks = make([][]string, m.orders)
	for line := range strings.Lines(rest) {
		f := strings.Fields(line)
		if len(f) < 4 {
			continue
		}
		x, err := strconv.ParseFloat(f[len(f)-2], 64)
		if err != nil {
			continue
		}
		if strings.HasPrefix(f[len(f)-3], "x") && math.Abs(x-math.Round(x)) > whole {
			// Stopped before it had a plan, it writes down its relaxation.
			v.picks, v.optimal = nil, false
			return
		}
		if x > 0.5 {
			m.pick(v, f[len(f)-3])
		}
	}
	if !m.any(v) {
		v.picks, v.optimal = nil, false
	}
}

func (m *model) readLPSolve(v *verdict, said string) {
	v.infeasible = strings.Contains(said, "This problem is infeasible")
	_, rest, found := strings.Cut(said, "Actual values of the variables:")
	if v.infeasible || !found {
		return
	}
	v.optimal = !strings.Contains(said, "sub-optimal") && !strings.Contains(said, "SUBOPTIMAL")
	v.picks = make([][]string, m.orders)
	for line := range strings.Lines(rest) {
		if f := strings.Fields(line); len(f) == 2 && f[1] == "1" {
			m.pick(v, f[0])
		}
	}
	if !m.any(v) {
		v.picks, v.optimal = nil, false
	}
}

// any reports whether a plan uses a barrel at all; one that does not is no plan, since every order weighs something.
func (m *model) any(v *verdict) bool {
	for _, ids := range v.picks {
		if len(ids) > 0 {
			return true
		}
	}
	return false
}

// pick notes column x<order>_<barrel> as chosen; columns of members are passed over.
func (m *model) pick(v *verdict, name string) {
	var o, b int
	if n, err := fmt.Sscanf(name, "x%d_%d", &o, &b); n == 2 && err == nil && o <= m.orders && b <= len(m.ids) {
		v.picks[o-1] = append(v.picks[o-1], m.ids[b-1])
	}
}
