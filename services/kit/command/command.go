// Package command is what every program of the suite begins and ends with.
package command

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"
)

// Main runs a program until it ends or is told to, by SIGINT or SIGTERM: then ctx ends, and run is waited for. An error is
// printed after the name, and the exit code is 1.
func Main(name string, run func(ctx context.Context) error) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx)
	stop()
	if err != nil {
		fmt.Fprintf(os.Stderr, "%s: %v\n", name, err)
		os.Exit(1)
	}
}
