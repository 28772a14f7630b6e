package main

import (
	"context"
	"errors"
	"fmt"
	"math/big"
	"os"
	"slices"
	"syscall"

	"barrelhead.example/services/inventory/internal/domain/blend"
)

// gap is how far above its bound, in parts per million, a plan may be and still count as proved, for everybody.
const gap = 100

// meet lets everybody plan one instance and compares.
func (c contest) meet(ctx context.Context, seed uint64, n, m int) error {
	barrels, orders := warehouse(seed, n), charges(seed, m, n, c.cap)
	began := spent(syscall.RUSAGE_SELF)
	joint, err := blend.ChooseAll(orders, barrels, blend.Options{Gap: gap, Nodes: c.nodes})
	ours := spent(syscall.RUSAGE_SELF) - began
	if err != nil {
		return err
	}
	title := fmt.Sprintf("%d x %d, seed %d", n, m, seed)
	has := joint.Status == blend.Proved || joint.Status == blend.Found
	cost, missing := "-", "-"
	if has {
		if err := checked(orders, barrels, picks(joint)); err != nil {
			return fmt.Errorf("our plan: %w", err)
		}
		cost = fmt.Sprint(int64(joint.Cost))
		if joint.Bound != nil {
			missing = percent(int64(joint.Cost-*joint.Bound), int64(joint.Cost))
		}
	}
	fmt.Fprintf(c.out, "%-20s %-9s %-11s %14s %9s %8.2f\n", title, "ours", joint.Status, cost, missing, ours)
	model, err := export(orders, barrels)
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(model.dir) }()
	var faults []error
	for _, name := range c.solvers {
		v, err := model.ask(ctx, name, c.limit)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		faults = append(faults, c.compare(joint, has, v, orders, barrels, name, ours))
	}
	return errors.Join(faults...)
}

// compare prints what a solver found beside ours, and fails where one of us must be wrong.
func (c contest) compare(joint *blend.Joint, has bool, v verdict, orders []blend.Order, barrels []blend.Barrel, name string, ours float64) error {
	line := func(status, cost, missing string) {
		fmt.Fprintf(c.out, "%-20s %-9s %-11s %14s %9s %8.2f %7.1f\n", "", name, status, cost, missing, v.cpu, v.cpu/max(ours, 0.001))
	}
	switch {
	case v.infeasible:
		line("INFEASIBLE", "-", "-")
		if has {
			return fmt.Errorf("%s says there is no plan; ours keeps every limit", name)
		}
		return nil
	case v.picks == nil:
		line("no plan", "-", "-")
		return nil
	}
	theirs := total(orders, barrels, v.picks)
	if err := checked(orders, barrels, v.picks); err != nil {
		line("breaks", fmt.Sprint(theirs), "-")
		fmt.Fprintf(c.out, "%-20s %-9s %v\n", "", "", err)
		return nil
	}
	status := "found"
	if v.optimal {
		status = "done"
	}
	above := "-"
	if has {
		above = percent(theirs-int64(joint.Cost), int64(joint.Cost)) + "+"
	}
	line(status, fmt.Sprint(theirs), above)
	if joint.Status == blend.Infeasible {
		return fmt.Errorf("%s has a plan, and ours is called infeasible", name)
	}
	if joint.Bound != nil && theirs < int64(*joint.Bound) {
		return fmt.Errorf("the plan of %s costs %d, below our bound %d", name, theirs, int64(*joint.Bound))
	}
	return nil
}

func percent(part, whole int64) string {
	return fmt.Sprintf("%.3f", 100*float64(part)/max(1, float64(max(whole, -whole))))
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

// checked compares a plan with every limit by its definition, in whole numbers of any size and without the planner's rows.
func checked(orders []blend.Order, barrels []blend.Barrel, plan [][]string) error {
	known, used := byID(barrels), map[string]bool{}
	for n := range orders {
		o := &orders[n]
		weight, water, color, share := new(big.Int), new(big.Int), new(big.Int), new(big.Int)
		members := map[string]bool{}
		for _, id := range plan[n] {
			b := known[id]
			if used[id] {
				return fmt.Errorf("barrel %s is used twice", id)
			}
			used[id], members[b.Member] = true, true
			w := big.NewInt(int64(b.Weight))
			weight.Add(weight, w)
			water.Add(water, new(big.Int).Mul(w, big.NewInt(int64(b.Moisture))))
			color.Add(color, new(big.Int).Mul(w, big.NewInt(int64(b.Density))))
			if b.Variety == o.Variety {
				share.Add(share, new(big.Int).Mul(w, big.NewInt(100_00)))
			}
		}
		times := func(v int64) *big.Int { return new(big.Int).Mul(weight, big.NewInt(v)) }
		broken := slices.DeleteFunc([]string{
			when(weight.Cmp(big.NewInt(int64(o.MinWeight))) < 0, "is too light"), when(weight.Cmp(big.NewInt(int64(o.MaxWeight))) > 0, "is too heavy"),
			when(water.Cmp(times(int64(*o.MaxMoisture))) > 0, "is too wet"), when(color.Cmp(times(int64(*o.MaxDensity))) > 0, "is too dark"),
			when(share.Cmp(times(int64(o.MinShare))) < 0, "has too little of its source"),
			when(o.MaxMembers > 0 && int64(len(members)) > o.MaxMembers, "has too many members"),
		}, func(s string) bool { return s == "" })
		if len(broken) > 0 {
			return fmt.Errorf("order %s %v", o.ID, broken)
		}
	}
	return nil
}

func when(is bool, text string) string {
	if is {
		return text
	}
	return ""
}
