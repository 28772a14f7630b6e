package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"syscall"
	"time"

	"barrelhead.example/services/inventory/internal/domain/blend"
)

// gap is how far above its bound, in parts per million, a plan may be and still be called proved, for everybody.
const gap = 100

// instance is a question with our answer to it.
type instance struct {
	orders  []blend.Order
	barrels []blend.Barrel
	joint   *blend.Joint
	*result
}

// meet lets everybody plan one instance and compares.
func (c contest) meet(ctx context.Context, seed uint64, n, m int) (*result, error) {
	in := &instance{barrels: warehouse(seed, n), orders: charges(seed, m, n, c.cap)}
	in.result = &result{title: fmt.Sprintf("%d x %d, seed %d %s", n, m, seed, kind(seed)%kinds), barrels: n, orders: m, gap: -1}
	began := spent(syscall.RUSAGE_SELF)
	var err error
	in.joint, err = blend.ChooseAll(in.orders, in.barrels, blend.Options{Gap: gap, Nodes: c.nodes})
	in.ours = spent(syscall.RUSAGE_SELF) - began
	if err != nil {
		return in.result, err
	}
	in.status = string(in.joint.Status)
	if err := in.show(c); err != nil {
		in.fault = true
		return in.result, err
	}
	model, err := export(in.orders, in.barrels)
	if err != nil {
		return in.result, err
	}
	defer func() { _ = os.RemoveAll(model.dir) }()
	return in.result, c.others(ctx, in, model)
}

// show prints ours and checks it.
func (in *instance) show(c contest) error {
	cost, missing := "-", "-"
	if in.planned() {
		if err := checked(in.orders, in.barrels, picks(in.joint)); err != nil {
			return fmt.Errorf("our plan: %w", err)
		}
		cost = fmt.Sprint(int64(in.joint.Cost))
		if in.joint.Bound != nil {
			in.gap = percent(int64(in.joint.Cost-*in.joint.Bound), int64(in.joint.Cost))
			missing = fmt.Sprintf("%.3f", in.gap)
		}
	}
	fmt.Fprintf(c.out, "%-28s %-9s %-11s %14s %9s %8.2f\n", in.title, "ours", in.status, cost, missing, in.ours)
	return nil
}

// others let the outside solvers work on the instance.
func (c contest) others(ctx context.Context, in *instance, model *model) error {
	var faults []error
	quickest, longest := 0.0, 0.0
	for _, name := range c.solvers {
		v, err := model.ask(ctx, name, c.time(in.ours))
		if err != nil {
			faults = append(faults, err)
			continue
		}
		if longest = max(longest, v.cpu); (v.infeasible && !in.planned() || v.optimal) && (quickest == 0 || v.cpu < quickest) {
			quickest = v.cpu
		}
		if err := in.compare(c, v, name); err != nil {
			in.fault = true
			faults = append(faults, err)
		}
	}
	if in.best = quickest; quickest == 0 {
		in.best = longest
	}
	return errors.Join(faults...)
}

// time is what an outside solver has for an instance on which we spent so many seconds.
func (c contest) time(ours float64) time.Duration {
	if c.times == 0 {
		return c.limit
	}
	return min(c.limit, max(time.Second, time.Duration(float64(c.times)*ours*float64(time.Second))))
}

// compare prints what a solver found beside ours, and fails where ours must be wrong.
func (in *instance) compare(c contest, v verdict, name string) error {
	line := func(status, cost, above string) {
		fmt.Fprintf(c.out, "%-28s %-9s %-11s %14s %9s %8.2f %7.1f\n", "", name, status, cost, above, v.cpu, v.cpu/max(in.ours, 0.001))
	}
	switch {
	case v.infeasible:
		above := "-"
		if in.planned() {
			// Our plan keeps every limit in whole numbers: a solver that runs out of time says this now and then.
			above = "refuted"
		}
		line("INFEASIBLE", "-", above)
		in.decided = in.decided || in.status == string(blend.Undecided)
		return nil
	case v.picks == nil:
		line("no plan", "-", "-")
		return nil
	}
	theirs := total(in.orders, in.barrels, v.picks)
	if err := checked(in.orders, in.barrels, v.picks); err != nil {
		line("breaks", fmt.Sprint(theirs), "-")
		fmt.Fprintf(c.out, "%-28s %-9s %v\n", "", "", err)
		return nil
	}
	status, above := "found", "-"
	if v.optimal {
		status = "done"
	}
	if in.planned() {
		away := percent(theirs-int64(in.joint.Cost), int64(in.joint.Cost))
		in.behind = max(in.behind, -away)
		above = fmt.Sprintf("%+.3f", away)
	}
	line(status, fmt.Sprint(theirs), above)
	in.decided = in.decided || in.status == string(blend.Undecided)
	if in.joint.Status == blend.Infeasible {
		return fmt.Errorf("%s has a plan, and ours is called infeasible", name)
	}
	if in.joint.Bound != nil && theirs < int64(*in.joint.Bound) {
		return fmt.Errorf("the plan of %s costs %d, below our bound %d", name, theirs, int64(*in.joint.Bound))
	}
	return nil
}

func percent(part, whole int64) float64 {
	return 100 * float64(part) / max(1, float64(max(whole, -whole)))
}

// spent is the CPU time of this process or of its children so far, in seconds.
func spent(who int) float64 {
	var u syscall.Rusage
	if syscall.Getrusage(who, &u) != nil {
		return 0
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// picks are the barrels of each order, by id.
func picks(j *blend.Joint) [][]string {
	var out [][]string
	for _, p := range j.Plans {
		out = append(out, p.Barrels)
	}
	return out
}

func byID(barrels []blend.Barrel) map[string]*blend.Barrel {
	out := map[string]*blend.Barrel{}
	for i := range barrels {
		out[barrels[i].ID] = &barrels[i]
	}
	return out
}

// total is what a plan costs, rounded barrel by barrel as the planner does.
func total(orders []blend.Order, barrels []blend.Barrel, plan [][]string) int64 {
	known, sum := byID(barrels), int64(0)
	for o, ids := range plan {
		for _, id := range ids {
			b := known[id]
			value, _ := b.Value.Times(b.Weight)
			paid, _ := orders[o].Price.Times(b.Weight)
			sum += int64(value - paid - b.Credit)
		}
	}
	return sum
}
