package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
)

// result is what came of one instance.
type result struct {
	title           string
	barrels, orders int
	status          string
	gap             float64 // of ours to its bound, in percent; below 0 for none
	ours            float64 // CPU seconds
	// best is the CPU of the quickest solver that was done with the instance, or else the most any of them used.
	best float64
	// behind is by how many percent the best plan of a solver is below ours; 0 when none is.
	behind float64
	// decided: a solver has a plan or says that there is none, and ours says neither.
	decided bool
	fault   bool
}

// proved reports whether ours is at an end: the best within the gap, or none.
func (r *result) proved() bool { return r.status == "PROVED" || r.status == "INFEASIBLE" }

// planned reports whether ours has a plan.
func (r *result) planned() bool { return r.status == "PROVED" || r.status == "FOUND" }

// ratio is our CPU beside the best solver's.
func (r *result) ratio() float64 { return r.ours / max(r.best, 0.001) }

// aim is a property that instances are to have, those of them that it is meant for, and by how much one misses it.
type aim struct {
	text    string
	meant   func(*result) bool
	reached func(*result) bool
	amount  func(*result) float64
	unit    string
}

// aims are what the planner is meant to reach; see Speed in DEVELOPERS.md.
var aims = []aim{
	{"one order over 50 to 1,000 barrels: proved", one(0, 1000), (*result).proved, func(r *result) float64 { return r.gap }, "% gap"},
	{"one order over 1,000 barrels: at most a third of the best solver's CPU", one(1000, 1000), under((*result).ratio, 1.0/3), (*result).ratio, "of theirs"},
	{"one order over 5,000 barrels: within 5 CPU-s", one(5000, 5000), under(cpu, 5), cpu, "s"},
	{"several orders: gap at most 0.3 %", several, gapped(0.3), func(r *result) float64 { return r.gap }, "% gap"},
	{"several orders: gap at most 0.1 %", several, gapped(0.1), func(r *result) float64 { return r.gap }, "% gap"},
	{"several orders: within 10 CPU-s", func(r *result) bool { return r.orders > 1 }, under(cpu, 10), cpu, "s"},
	{"no solver has a cheaper plan, by more than the gap asked for", everything, under(func(r *result) float64 { return r.behind }, 100.0*gap/1e6), func(r *result) float64 { return r.behind }, "% cheaper"},
	{"decided where a solver decides", everything, func(r *result) bool { return !r.decided }, cpu, "s"},
	{"no plan or bound shown to be wrong", everything, func(r *result) bool { return !r.fault }, cpu, "s"},
}

func everything(*result) bool { return true }

func cpu(r *result) float64 { return r.ours }

func one(least, most int) func(*result) bool {
	return func(r *result) bool { return r.orders == 1 && least <= r.barrels && r.barrels <= most }
}

func several(r *result) bool { return r.orders > 1 && r.status != "INFEASIBLE" }

func under(of func(*result) float64, most float64) func(*result) bool {
	return func(r *result) bool { return of(r) <= most }
}

func gapped(most float64) func(*result) bool {
	return func(r *result) bool { return r.planned() && 0 <= r.gap && r.gap <= most }
}

// summarize says of each aim on how many instances it was reached, and names the worst of the others.
func summarize(w io.Writer, all []*result) {
	fmt.Fprint(w, "\naims\n")
	for _, a := range aims {
		var reached, meant int
		var worst *result
		for _, r := range all {
			if !a.meant(r) {
				continue
			}
			meant++
			switch {
			case a.reached(r):
				reached++
			case worst == nil || a.amount(r) > a.amount(worst):
				worst = r
			}
		}
		line := fmt.Sprintf("%-72s %d of %d", a.text, reached, meant)
		if worst != nil {
			line += fmt.Sprintf("; worst %s, %s, %.3f %s", worst.title, worst.status, a.amount(worst), a.unit)
		}
		fmt.Fprintln(w, line)
	}
	if r := median(all); r != nil {
		fmt.Fprintf(w, "%-72s %.3f of the best solver's (aim 0.1); %s\n", "one order over 1,000 barrels: CPU in the median", r.ratio(), r.title)
	}
}

// median is the instance of one order over a thousand barrels with the middle ratio, the worse of two; nil without any.
func median(all []*result) *result {
	some := slices.DeleteFunc(slices.Clone(all), func(r *result) bool { return !one(1000, 1000)(r) })
	if len(some) == 0 {
		return nil
	}
	slices.SortStableFunc(some, func(a, b *result) int { return cmp.Compare(a.ratio(), b.ratio()) })
	return some[len(some)/2]
}
