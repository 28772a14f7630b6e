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
	flag.Parse()
	var cfg inventory.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	if *migrate {
		return inventory.Migrate(ctx, cfg)
	}
	return inventory.Run(ctx, cfg)
}
