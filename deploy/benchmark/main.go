// Command benchmark puts each speed of the suite beside what the machine allows, measured in turn in one run: a figure alone
// says little on a shared machine, the ratio of medians does. See deploy/bench.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgrun"
)

// plan of a run.
type plan struct {
	rounds  int
	length  time.Duration
	stored  int
	settled int
	// transfers of the ledger traces are asked in.
	transfers int
	streams   []int
	// others are the figures that take no measure of size.
	others bool
}

func main() {
	p := plan{streams: []int{8, 64}, others: true}
	flag.IntVar(&p.rounds, "rounds", 5, "times each figure is measured")
	flag.DurationVar(&p.length, "length", 4*time.Second, "how long one measurement lasts")
	flag.IntVar(&p.stored, "stored", 1_000_000, "barrels stored for the second weigh-in figure; 0 leaves it out")
	flag.IntVar(&p.settled, "settled", 1_000_000, "barrels of the pool a trial run is made of; 0 leaves it out")
	flag.IntVar(&p.transfers, "transfers", 1_000_000, "transfers of the ledger recall traces are asked in; 0 leaves it out")
	traces := flag.Bool("trace-only", false, "take only the figure of recall traces")
	only := flag.Bool("settle-only", false, "take only the figure of the trial run")
	flag.Parse()
	if *only {
		p.streams, p.stored, p.transfers, p.others = nil, 0, 0, false
	}
	if *traces {
		p.streams, p.stored, p.settled, p.others = nil, 0, 0, false
	}
	command.Main("benchmark", func(ctx context.Context) error { return run(ctx, p) })
}

// run starts a suite on a durable cluster of its own (fsync on, as for real use) and takes every figure.
func run(ctx context.Context, p plan) (err error) {
	place, err := pgrun.Place(os.TempDir())
	if err != nil {
		return err
	}
	home, err := os.MkdirTemp(place, "barrelhead-bench")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(home)) }()
	if err := os.Chmod(home, 0o755); err != nil { //nolint:gosec // PostgreSQL runs as another user when we are root
		return err
	}
	cluster, err := pgrun.Start(ctx, pgrun.Config{Dir: filepath.Join(home, "postgres")})
	if err != nil {
		return err
	}
	defer func() {
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), time.Minute)
		defer cancel()
		err = errors.Join(err, cluster.Stop(stop))
	}()
	databases, err := suite.Migrate(ctx, cluster)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	o := suite.Options{
		Home: home, Databases: databases, Listen: "127.0.0.1:0",
		Cooperative: config.Cooperative{Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago"},
	}
	return suite.Run(ctx, o, func(ctx context.Context, r suite.Running) error {
		defer stop()
		return p.measure(ctx, bench{Running: r, cluster: cluster})
	})
}

// measure takes the figures one after the other, each interleaved with its limit.
func (p plan) measure(ctx context.Context, b bench) error {
	if p.others {
		if err := b.prepare(ctx); err != nil {
			return err
		}
	}
	fmt.Printf("%d rounds of %s; medians; ratio = ours / limit, figure by figure in one run\n\n", p.rounds, p.length)
	for _, streams := range p.streams {
		if err := p.weighIn(ctx, b, streams, "few barrels stored"); err != nil {
			return err
		}
	}
	if p.stored > 0 {
		if err := b.storeBarrels(ctx, p.stored); err != nil {
			return err
		}
		if err := p.weighIn(ctx, b, p.streams[0], fmt.Sprintf("%d barrels stored", p.stored)); err != nil {
			return err
		}
	}
	if p.others {
		if err := errors.Join(p.payout(ctx, b), p.pricing(ctx, b), p.evaluations(ctx)); err != nil {
			return err
		}
	}
	if p.transfers > 0 {
		if err := p.genealogy(ctx, b); err != nil {
			return err
		}
	}
	if p.settled == 0 {
		return nil
	}
	return p.settle(ctx, b)
}
