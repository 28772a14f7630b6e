// Command grading runs the laboratory service: grading -config grading.json.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"barrelhead.example/services/grading"
	"barrelhead.example/services/kit/config"
)

func main() {
	path := flag.String("config", "grading.json", "settings file")
	flag.Parse()
	if err := run(*path); err != nil {
		fmt.Fprintln(os.Stderr, "grading:", err)
		os.Exit(1)
	}
}

func run(path string) error {
	var cfg grading.Config
	if err := config.Load(path, &cfg); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return grading.Run(ctx, cfg)
}
