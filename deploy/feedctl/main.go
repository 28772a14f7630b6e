// Command feedctl is for the operator of a service: how far it follows its neighbours, and what to do about a halt.
//
//	feedctl -address 127.0.0.1:7103 -service inventory -certs .barrelhead/certs -as users/admin1 list
//	feedctl … retry stock
//	feedctl … skip stock 1042 "barrel entered twice, voided on paper"
//	feedctl … rebuild stock
//	feedctl … verify
//	feedctl … digest >> /media/offsite/digests.jsonl
//	feedctl … compare /media/offsite/digests.jsonl
//
// A digest kept every day where nobody who may change the database can reach shows later that the end of the log was cut off, or
// that its chain was made anew; verify alone cannot.
//
// It shows the gateway's certificate, the only one that may speak for a person, so it runs where that certificate is
// kept; -as is recorded with a skipped event. It exits with 0 when all is well, 1 on an error, 3 when a source is halted
// or the log was tampered with.
package main

import (
	"context"
	"fmt"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code, err := run(ctx, os.Args[1:], os.Stdout)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "feedctl:", err)
		code = 1
	}
	os.Exit(code)
}
