// Command intake runs the dock service: intake -config intake.json.
package main

import (
	"context"
	"flag"

	"barrelhead.example/services/intake"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
)

func main() { command.Main("intake", run) }

func run(ctx context.Context) error {
	path := flag.String("config", "intake.json", "settings file")
	flag.Parse()
	var cfg intake.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	return intake.Run(ctx, cfg)
}
