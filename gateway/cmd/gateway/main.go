// Command gateway serves REST and web pages in front of the four services.
package main

import (
	"context"
	"flag"
	"os"

	"barrelhead.example/gateway"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
)

func main() { command.Main("gateway", run) }

func run(ctx context.Context) error {
	path := flag.String("config", "gateway.json", "settings file")
	login := flag.String("administrator", "", "make this login an administrator with the password read from the input, and end")
	flag.Parse()
	var cfg gateway.Config
	if err := config.Load(*path, &cfg); err != nil {
		return err
	}
	if *login != "" {
		return gateway.ReadAdministrator(ctx, cfg.Service, *login, os.Stdin)
	}
	return gateway.Run(ctx, cfg)
}
