// Command settlement runs the settlement service, or with -migrate brings its tables to this release.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/settlement"
)

func main() {
	path := flag.String("config", "settlement.json", "settings file")
	migrate := flag.Bool("migrate", false, "migrate the schema as the role of database.url, then exit")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, *path, *migrate); err != nil {
		fmt.Fprintln(os.Stderr, "settlement:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, path string, migrate bool) error {
	var cfg settlement.Config
	if err := config.Load(path, &cfg); err != nil {
		return err
	}
	if migrate {
		return settlement.Migrate(ctx, cfg)
	}
	return settlement.Run(ctx, cfg)
}
