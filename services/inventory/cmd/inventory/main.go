// Command inventory runs the warehouse service.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"barrelhead.example/services/inventory"
	"barrelhead.example/services/kit/config"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "inventory:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	path := flag.String("config", "inventory.json", "settings file")
	migrate := flag.Bool("migrate", false, "bring the schema to the newest version and end")
	rebuild := flag.String("rebuild", "", "fill the tables read from `intake or grading` again and end")
	retry := flag.String("retry", "", "let halted `intake or grading` try its event again and end")
	skip := flag.String("skip", "", "pass over event -sequence of halted `intake or grading` and end")
	sequence := flag.Int64("sequence", 0, "event to skip")
	reason := flag.String("reason", "", "why it is skipped")
	actor := flag.String("actor", os.Getenv("USER"), "who decided so")
	flag.Parse()
	var cfg inventory.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	switch {
	case *migrate:
		return inventory.Migrate(ctx, cfg)
	case *rebuild != "":
		return inventory.Rebuild(ctx, cfg, *rebuild)
	case *retry != "":
		return inventory.Retry(ctx, cfg, *retry)
	case *skip != "":
		return inventory.Skip(ctx, cfg, *skip, *sequence, *reason, *actor)
	default:
		return inventory.Run(ctx, cfg)
	}
}
