package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/deploy/season"
	"barrelhead.example/gateway"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/pgrun"
	"barrelhead.example/services/kit/rpcdial"
)

// bench is a running suite with a small season in it.
type bench struct {
	suite.Running
	cluster *pgrun.Cluster
}

const password = "fallow creek demo"

func (b bench) crew() (*season.Crew, *season.Client) {
	year := int32(time.Now().Year()) //nolint:gosec // a year fits
	client := season.NewClient(b.URL, time.Minute)
	return &season.Crew{Season: season.New(season.Size{Members: 8, Barrels: 40}, year), Lanes: 2}, client
}

func (b bench) prepare(ctx context.Context) error {
	if err := gateway.CreateAdministrator(ctx, b.Services["gateway"], "admin", password); err != nil {
		return err
	}
	crew, client := b.crew()
	if err := crew.Work(ctx, client, "admin", password); err != nil {
		return err
	}
	_, err := crew.Settled(ctx, time.Minute)
	return err
}

// drums makes the tags of all rounds distinct.
var drums atomic.Int64

// weighIn puts the rate of weighing RPCs (mutual TLS, one stream a dock lane, durable commit) beside pgbench committing one
// tiny insert at the same concurrency on the same cluster.
func (p plan) weighIn(ctx context.Context, b bench, streams int, stored string) error {
	conn, err := rpcdial.Dial(ctx, b.Services["gateway"], "intake")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	ctx = access.Outgoing(ctx, access.Actor{Login: "users/dock", Roles: []accessv1.Role{accessv1.Role_ROLE_DOCK}})
	ours := func() (sample, error) {
		deliveries, err := p.openTickets(ctx, conn, streams)
		if err != nil {
			return sample{}, err
		}
		// A thousand tickets in a second are more than PostgreSQL learns of by itself before the clock has run.
		if err := b.exec(ctx, "ANALYZE intake.ticket, intake.ticket_line, intake.barrel, intake.drum_asset, intake.scale_check"); err != nil {
			return sample{}, err
		}
		dock := intakev1.NewIntakeServiceClient(conn)
		return load(ctx, streams, p.length, func(ctx context.Context, stream int) error {
			_, err := dock.WeighBarrel(ctx, weighing(deliveries[stream].next()), grpc.WaitForReady(true))
			return err
		})
	}
	what := fmt.Sprintf("weigh-in RPC, %d streams, %s", streams, stored)
	return p.compare(what, "pgbench, one tiny insert a commit", ours, func() (sample, error) { return b.pgbench(ctx, streams, p.length) })
}

// delivery is what comes over one dock lane: ticket after ticket.
type delivery struct {
	tickets []string
	barrels int
}

// A truckload of barrels goes on one ticket (common practice, no source).
const barrelsOnTicket = 20

// quickest is more weighings a second than one machine does; tickets are opened for so many before the clock runs.
const quickest = 4000

func (d *delivery) next() string {
	ticket := d.tickets[min(d.barrels/barrelsOnTicket, len(d.tickets)-1)]
	d.barrels++
	return ticket
}

func (p plan) openTickets(ctx context.Context, conn *grpc.ClientConn, streams int) ([]*delivery, error) {
	dock := intakev1.NewIntakeServiceClient(conn)
	tickets := int(quickest*p.length.Seconds())/barrelsOnTicket/streams + 1
	deliveries := make([]*delivery, streams)
	var group errgroup.Group
	for stream := range deliveries {
		deliveries[stream] = &delivery{}
		group.Go(func() error {
			for range tickets {
				ticket, err := dock.OpenTicket(ctx, &intakev1.OpenTicketRequest{
					RequestId: uuid.NewString(), Member: "members/M-0001", CropYear: int32(time.Now().Year()), HarvestDeclared: true, //nolint:gosec // a year fits
				}, grpc.WaitForReady(true))
				if err != nil {
					return err
				}
				deliveries[stream].tickets = append(deliveries[stream].tickets, ticket.GetName())
			}
			return nil
		})
	}
	return deliveries, group.Wait()
}

func weighing(ticket string) *intakev1.WeighBarrelRequest {
	return &intakev1.WeighBarrelRequest{
		RequestId: uuid.NewString(), Ticket: ticket, DrumTag: fmt.Sprintf("B-%d", drums.Add(1)), Variety: "clover",
		Gross: &typev1.Mass{Value: "684.5", Unit: "LB"}, Tare: &typev1.Mass{Value: "43.0", Unit: "LB"},
		TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Scale: "scales/1", RawIndication: "ST,GS, 684.5 lb", Stable: true,
	}
}

func (b bench) pgbench(ctx context.Context, clients int, length time.Duration) (sample, error) {
	bin, err := pgrun.FindBinaries()
	if err != nil {
		return sample{}, err
	}
	dir, err := os.MkdirTemp("", "pgbench")
	if err != nil {
		return sample{}, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	if err := b.exec(ctx, "CREATE TABLE IF NOT EXISTS public.bare (id bigint GENERATED ALWAYS AS IDENTITY, v integer)"); err != nil {
		return sample{}, err
	}
	script := filepath.Join(dir, "insert.sql")
	if err := os.WriteFile(script, []byte("INSERT INTO public.bare (v) VALUES (1);\n"), 0o600); err != nil {
		return sample{}, err
	}
	cmd := exec.CommandContext(ctx, filepath.Join(bin, "pgbench"), "-n", "-M", "prepared", "-c", strconv.Itoa(clients), "-j", "2", //nolint:gosec // fixed program
		"-T", strconv.Itoa(int(length.Seconds())), "-f", script, "-l", "--log-prefix", filepath.Join(dir, "log"), b.cluster.URL("barrelhead"))
	if out, err := cmd.CombinedOutput(); err != nil {
		return sample{}, fmt.Errorf("pgbench: %w: %s", err, out)
	}
	took, err := readLog(dir)
	if err != nil {
		return sample{}, err
	}
	return sample{float64(len(took)) / length.Seconds(), p99(took)}, nil
}

// readLog reads the third column of pgbench's logs: the time of one transaction in microseconds.
func readLog(dir string) ([]time.Duration, error) {
	files, err := filepath.Glob(filepath.Join(dir, "log*"))
	if err != nil {
		return nil, err
	}
	var took []time.Duration
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		for line := range strings.Lines(string(text)) {
			columns := strings.Fields(line)
			micros, err := strconv.Atoi(columns[2])
			if err != nil {
				return nil, err
			}
			took = append(took, time.Duration(micros)*time.Microsecond)
		}
	}
	return took, nil
}

func (b bench) exec(ctx context.Context, sql string, args ...any) (err error) {
	conn, err := pgx.Connect(ctx, b.cluster.URL("barrelhead"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close(ctx)) }()
	_, err = conn.Exec(ctx, sql, args...)
	return err
}

// storeBarrels fills intake with barrels of earlier years, so that the next figure shows whether its tail stays flat.
func (b bench) storeBarrels(ctx context.Context, count int) error {
	fmt.Printf("storing %d barrels …\n\n", count)
	err := b.exec(ctx, `
WITH t AS (SELECT id FROM intake.ticket LIMIT 1),
     b AS (INSERT INTO intake.barrel (id, drum_tag, variety, crop_year, gross, tare, tare_kind, net, scale, check_ordinal,
                                      raw_indication, manual, reason, warnings, weigher, weigh_time, record_time)
           SELECT gen_random_uuid(), 'OLD-' || n, 'clover', 2020, 684500, 43000, 'TARE_KIND_STENCILLED', 641500, '1', 1,
                  '', false, '', '{}', 'users/dock', now(), now()
             FROM generate_series(1, `+strconv.Itoa(count)+`) n
        RETURNING id)
INSERT INTO intake.ticket_line (ticket, line, barrel)
SELECT t.id, 1000 + row_number() OVER (), b.id FROM b, t`)
	// Years of deliveries were written long ago: what writing them at once leaves to do is not part of a weighing.
	return errors.Join(err, b.exec(ctx, "VACUUM (ANALYZE) intake.barrel, intake.ticket_line"), b.exec(ctx, "CHECKPOINT"))
}
