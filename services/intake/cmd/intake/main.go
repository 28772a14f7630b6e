// Command intake runs the dock service: intake -config intake.json.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"barrelhead.example/services/intake"
	"barrelhead.example/services/kit/config"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx); err != nil {
		fmt.Fprintln(os.Stderr, "intake:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	path := flag.String("config", "intake.json", "settings file")
	migrate := flag.Bool("migrate", false, "bring the schema to the newest version and end")
	flag.Parse()
	var cfg intake.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	if *migrate {
		return intake.Migrate(ctx, cfg)
	}
	return intake.Run(ctx, cfg)
}
