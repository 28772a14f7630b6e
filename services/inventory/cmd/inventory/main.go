// Command inventory runs the warehouse service: inventory -config inventory.json.
package main

import (
	"context"
	"flag"

	"barrelhead.example/services/inventory"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
)

func main() { command.Main("inventory", run) }

func run(ctx context.Context) error {
	path := flag.String("config", "inventory.json", "settings file")
	flag.Parse()
	var cfg inventory.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	return inventory.Run(ctx, cfg)
}
