// Command grading runs the laboratory service: grading -config grading.json.
package main

import (
	"context"
	"flag"

	"barrelhead.example/services/grading"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
)

func main() { command.Main("grading", run) }

func run(ctx context.Context) error {
	path := flag.String("config", "grading.json", "settings file")
	flag.Parse()
	var cfg grading.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	return grading.Run(ctx, cfg)
}
