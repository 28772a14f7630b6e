// Contest lets the blend planner and outside MIP solvers work on the same instances, one after the other in one run, and prints
// what each found, what is proved and the CPU seconds of both. Every plan, theirs too, is checked for every limit in whole
// numbers. It ends with what was reached of the aims, and with an error if a plan breaks a limit or a solver shows a bound of
// ours to be wrong. deploy/bench --planner runs it.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"barrelhead.example/services/kit/command"
)

// contest is what a run tries.
type contest struct {
	barrels, orders []int
	first, seeds    uint64
	limit           time.Duration
	times           int
	nodes           int64
	solvers         []string
	cap             bool
	out             io.Writer
}

func main() {
	c := contest{out: os.Stdout}
	barrels := flag.String("barrels", "50,200,1000,5000", "sizes of the stock")
	orders := flag.String("orders", "1,5,20", "numbers of orders")
	solvers := flag.String("solvers", "glpsol,cbc,lp_solve", "outside solvers")
	flag.Uint64Var(&c.seeds, "seeds", 1, "instances of each size")
	flag.Uint64Var(&c.first, "first", 0, "number of the first instance; its rest of the division by 4 is its kind")
	flag.DurationVar(&c.limit, "limit", 10*time.Second, "most time an outside solver has for one instance")
	flag.IntVar(&c.times, "times", 0, "give an outside solver so many times what ours took, from a second to the limit; 0 for the limit")
	flag.Int64Var(&c.nodes, "nodes", 0, "budget of the planner; 0 for its default")
	flag.BoolVar(&c.cap, "members", false, "cap the members of each order at 3 to 8")
	flag.Parse()
	command.Main("contest", func(ctx context.Context) error {
		var err, also error
		c.barrels, err = numbers(*barrels)
		c.orders, also = numbers(*orders)
		c.solvers = strings.Split(*solvers, ",")
		if err = errors.Join(err, also); err != nil {
			return err
		}
		return c.run(ctx)
	})
}

func numbers(list string) ([]int, error) {
	var out []int
	for _, text := range strings.Split(list, ",") {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 {
			return nil, fmt.Errorf("%q is not a number above zero", text)
		}
		out = append(out, n)
	}
	return out, nil
}

func (c contest) run(ctx context.Context) error {
	given := fmt.Sprintf("%s each", c.limit)
	if c.times > 0 {
		given = fmt.Sprintf("%d times our CPU, from 1 s to %s", c.times, c.limit)
	}
	fmt.Fprintf(c.out, "outside solvers have %s; all aim at a gap of 0.01 %%; CPU in seconds, ratio = theirs / ours;\n"+
		"gap: of ours to its proved bound, of theirs (+) above our cost; \"done\" is what a solver says of itself\n\n", given)
	fmt.Fprintf(c.out, "%-28s %-9s %-11s %14s %9s %8s %7s\n", "barrels x orders", "who", "status", "cost", "gap %", "CPU", "ratio")
	var faults []error
	var all []*result
	for _, n := range c.barrels {
		for _, m := range c.orders {
			for seed := c.first; seed < c.first+c.seeds; seed++ {
				r, err := c.meet(ctx, seed, n, m)
				if ctx.Err() != nil {
					return errors.Join(append(faults, ctx.Err())...)
				}
				if all = append(all, r); err != nil {
					faults = append(faults, fmt.Errorf("%s: %w", r.title, err))
				}
			}
		}
	}
	summarize(c.out, all)
	return errors.Join(faults...)
}
