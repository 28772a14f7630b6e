// Command gateway serves REST and web pages in front of the four services.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"barrelhead.example/gateway"
	"barrelhead.example/services/kit/config"
)

func main() {
	path := flag.String("config", "gateway.json", "settings file")
	migrate := flag.Bool("migrate", false, "bring the schema to the newest version and end")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, *path, *migrate); err != nil {
		fmt.Fprintln(os.Stderr, "gateway:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, path string, migrate bool) error {
	var cfg gateway.Config
	if err := config.Load(path, &cfg); err != nil {
		return err
	}
	if migrate {
		return gateway.Migrate(ctx, cfg)
	}
	return gateway.Run(ctx, cfg)
}
