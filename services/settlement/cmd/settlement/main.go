// Command settlement runs the office service: settlement -config settlement.json.
package main

import (
	"context"
	"flag"

	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/settlement"
)

func main() { command.Main("settlement", run) }

func run(ctx context.Context) error {
	path := flag.String("config", "settlement.json", "settings file")
	flag.Parse()
	var cfg settlement.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	return settlement.Run(ctx, cfg)
}
