// Command migrate brings every schema to the newest tables: migrate -url-file owner.url. It makes schemas and roles that are
// missing, waits for another run, and changes nothing when everything is new.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"barrelhead.example/migrations"
)

func main() {
	file := flag.String("url-file", "", "file with the connection string of a role that may create roles and schemas")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, *file); err != nil {
		fmt.Fprintln(os.Stderr, "migrate:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, file string) error {
	url, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	for _, schema := range migrations.Schemas() {
		if err := migrations.Up(ctx, schema, strings.TrimSpace(string(url))); err != nil {
			return fmt.Errorf("%s: %w", schema, err)
		}
		fmt.Printf("%s is at version %d\n", schema, migrations.Latest(schema))
	}
	return nil
}
