// Command scalesim plays a scale with an indicator: over TCP, over a pseudo-terminal, or both. Commands come from a script
// or are typed.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"net"
	"os"
	"time"

	"barrelhead.example/deploy/scalesim"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/quantity"
)

func main() {
	command.Main("scalesim", func(ctx context.Context) error { return run(ctx, os.Args[1:], os.Stdin, os.Stdout) })
}

func run(ctx context.Context, args []string, in io.Reader, out io.Writer) error {
	flags := flag.NewFlagSet("scalesim", flag.ContinueOnError)
	address := flags.String("tcp", "127.0.0.1:7301", "address to listen on; empty for none")
	link := flags.String("port", "", "symbolic link to make to a pseudo-terminal; empty for none")
	every := flags.Duration("every", 100*time.Millisecond, "time between lines")
	steps := flags.String("division", "0.5", "division of the scale")
	unit := flags.String("unit", "lb", "unit to show")
	path := flags.String("script", "", "file of commands; empty reads what is typed, and stays until interrupted")
	if err := flags.Parse(args); err != nil {
		return err
	}
	division, err := quantity.ParseMass(*steps)
	if err != nil || division <= 0 {
		return fmt.Errorf("division %q must be a number above zero", *steps)
	}
	hub := scalesim.NewHub(scalesim.NewScale(division, *unit), *every)
	if err := offer(ctx, hub, *address, *link, out); err != nil {
		return err
	}
	ended := make(chan struct{})
	go func() { defer close(ended); hub.Run(ctx) }()
	if *path != "" {
		return playFile(ctx, hub, *path)
	}
	fmt.Fprintln(out, scalesim.Words)
	// Beside: a read of what is typed does not end with ctx.
	played := make(chan error, 1)
	go func() { played <- hub.Play(ctx, in) }()
	select {
	case <-ended:
		return nil
	case err := <-played:
		if err == nil {
			<-ended
		}
		return err
	}
}

func offer(ctx context.Context, hub *scalesim.Hub, address, link string, out io.Writer) error {
	if address != "" {
		lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
		if err != nil {
			return err
		}
		context.AfterFunc(ctx, func() { _ = lis.Close() })
		go hub.Accept(lis)
		fmt.Fprintf(out, "tcp://%s\n", lis.Addr())
	}
	if link == "" {
		return nil
	}
	port, err := scalesim.OpenPort(link)
	if err != nil {
		return err
	}
	context.AfterFunc(ctx, func() { _ = os.Remove(link) })
	hub.Connect(port)
	fmt.Fprintf(out, "serial://%s\n", link)
	return nil
}

func playFile(ctx context.Context, hub *scalesim.Hub, path string) error {
	script, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { _ = script.Close() }()
	return hub.Play(ctx, script)
}
