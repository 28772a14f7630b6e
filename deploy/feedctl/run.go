package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strconv"
	"time"

	"github.com/google/uuid"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
)

// attention is the exit code for what an operator must look at.
const attention = 3

// tool is one call of the command.
type tool struct {
	client  feedv1.FeedAdminServiceClient
	service string
	out     io.Writer
	args    []string
}

func run(ctx context.Context, args []string, out io.Writer) (code int, err error) {
	flags := flag.NewFlagSet("feedctl", flag.ContinueOnError)
	address := flags.String("address", "", "address of the service, e.g. 127.0.0.1:7103")
	service := flags.String("service", "", "name of the service, as in its certificate, e.g. inventory")
	dir := flags.String("certs", ".barrelhead/certs", "folder with the gateway's certificate and its authority's")
	as := flags.String("as", "", "login of the operator, e.g. users/admin1")
	if err := flags.Parse(args); err != nil {
		return 0, err
	}
	if *address == "" || *service == "" || *as == "" || flags.NArg() == 0 {
		flags.SetOutput(out)
		flags.PrintDefaults()
		return 0, errors.New("give -address, -service, -as and one of: list, retry NAME, skip NAME SEQUENCE REASON, rebuild NAME, verify, digest, compare FILE")
	}
	conn, err := rpcdial.Dial(ctx, config.Service{
		Name: rpcserve.Gateway, TLS: certs.Files(*dir, rpcserve.Gateway), Peers: map[string]string{*service: *address},
	}, *service)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	ctx = access.Outgoing(ctx, access.Actor{Login: *as, Roles: []accessv1.Role{accessv1.Role_ROLE_ADMINISTRATOR}})
	t := tool{feedv1.NewFeedAdminServiceClient(conn), *service, out, flags.Args()}
	code, err = t.do(ctx)
	if err != nil {
		return 0, errors.New(apierr.Parse(err).Message)
	}
	return code, nil
}

func (t *tool) do(ctx context.Context) (code int, err error) {
	commands := map[string]struct {
		arguments int
		run       func(context.Context) (int, error)
	}{
		"list": {0, t.list}, "retry": {1, t.retry}, "skip": {3, t.skip}, "rebuild": {1, t.rebuild}, "verify": {0, t.verify},
		"digest": {0, t.digest}, "compare": {1, t.compare},
	}
	command, known := commands[t.args[0]]
	if !known {
		return 0, fmt.Errorf("there is no command %q", t.args[0])
	}
	if given := len(t.args) - 1; given != command.arguments {
		return 0, fmt.Errorf("%s takes %d arguments, %d were given", t.args[0], command.arguments, given)
	}
	return command.run(ctx)
}

func (t *tool) name() string { return "feedSources/" + t.args[1] }

func (t *tool) list(ctx context.Context) (code int, err error) {
	answer, err := t.client.ListFeedSources(ctx, &feedv1.ListFeedSourcesRequest{})
	if err != nil {
		return 0, err
	}
	for _, source := range answer.GetSources() {
		code = max(code, t.print(source))
	}
	return code, nil
}

func (t *tool) retry(ctx context.Context) (int, error) {
	source, err := t.client.RetryFeedSource(ctx, &feedv1.RetryFeedSourceRequest{RequestId: uuid.NewString(), Name: t.name()})
	if err != nil {
		return 0, err
	}
	return t.print(source), nil
}

func (t *tool) skip(ctx context.Context) (int, error) {
	sequence, err := strconv.ParseInt(t.args[2], 10, 64)
	if err != nil {
		return 0, fmt.Errorf("the sequence %q is not a number", t.args[2])
	}
	source, err := t.client.SkipFeedEvent(ctx, &feedv1.SkipFeedEventRequest{
		RequestId: uuid.NewString(), Name: t.name(), Sequence: sequence, Reason: t.args[3],
	})
	if err != nil {
		return 0, err
	}
	return t.print(source), nil
}

func (t *tool) rebuild(ctx context.Context) (int, error) {
	stream, err := t.client.RebuildFeedSource(ctx, &feedv1.RebuildFeedSourceRequest{RequestId: uuid.NewString(), Name: t.name()})
	if err != nil {
		return 0, err
	}
	for {
		report, err := stream.Recv()
		if err != nil {
			return 0, err
		}
		if report.GetSource() != nil {
			return t.print(report.GetSource()), nil
		}
		t.printf("%d of %d events\n", report.GetDoneEvents(), report.GetTotalEvents())
	}
}

func (t *tool) verify(ctx context.Context) (int, error) {
	return t.check(ctx, nil)
}

func (t *tool) print(source *feedv1.FeedSource) (code int) {
	t.printf("%s: event %d of %d of %s, confirmed %s\n", source.GetName(), source.GetSequence(), source.GetHeadSequence(),
		source.GetSource(), source.GetUpdateTime().AsTime().Format(time.RFC3339))
	if halt := source.GetHalt(); halt != nil {
		t.printf("  HALTED at event %d since %s: %s\n", halt.GetSequence(), halt.GetHaltTime().AsTime().Format(time.RFC3339), halt.GetReason())
		return attention
	}
	return 0
}

// printf leaves a broken pipe to the exit code of whoever reads.
func (t *tool) printf(format string, args ...any) { _, _ = fmt.Fprintf(t.out, format, args...) }
