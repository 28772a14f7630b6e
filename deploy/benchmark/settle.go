package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"google.golang.org/grpc"

	"barrelhead.example/migrations"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/settlement"
)

const (
	scratch = "settlement_bench"
	sellers = 20_000
	// settledYear is none the small season of the other figures uses.
	settledYear = 2020
)

// office is one settlement service of its own, so that what it holds can be told apart.
type office struct {
	bench
	process *exec.Cmd
	client  settlementv1.SettlementServiceClient
	pool    string
}

// settle puts the trial run of a large pool, by the RPC the office uses, with its indexed lines, its members' sums and its
// fingerprint, beside bare SQL: the sums by member, and a COPY of the same lines into a table without an index.
func (p plan) settle(ctx context.Context, b bench) (err error) {
	fmt.Printf("generating %d barrels of %d members …\n", p.settled, sellers)
	if err := b.generate(ctx, p.settled); err != nil {
		return fmt.Errorf("generate a season: %w", err)
	}
	o, stop, err := b.openOffice(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, stop()) }()
	if err := o.openPool(ctx); err != nil {
		return fmt.Errorf("open a pool: %w", err)
	}
	lines, err := o.rehearse(ctx)
	if err != nil {
		return err
	}
	var ours, bare []effort
	for range p.rounds {
		took, err := o.measured(func() (time.Duration, error) { return o.trialRun(ctx) })
		if err != nil {
			return fmt.Errorf("trial run: %w", err)
		}
		limit, err := o.measured(func() (time.Duration, error) { return o.bareSQL(ctx, lines) })
		if err != nil {
			return fmt.Errorf("bare SQL: %w", err)
		}
		ours, bare = append(ours, took), append(bare, limit)
	}
	most, err := peakMemory(o.process.Process.Pid)
	if err != nil {
		return err
	}
	a, l := median(ours, effort.seconds), median(bare, effort.seconds)
	cpuA, cpuL := median(ours, effort.processor), median(bare, effort.processor)
	fmt.Printf("trial run of %d barrels\n  ours   %10.2f s   processor %6.2f s   peak memory of the service %d MiB\n  limit  %10.2f s   processor %6.2f s   (SQL sums by member and COPY of the %d MiB of lines, no index)\n  ratio  %10.2f     processor %6.2f\n\n",
		p.settled, a, cpuA, most>>20, l, cpuL, len(lines)>>20, a/l, cpuA/cpuL)
	return nil
}

// effort is how long something took, and how much of the processors' time, which says more on a busy machine.
type effort struct{ took, cpu time.Duration }

func (e effort) seconds() float64   { return e.took.Seconds() }
func (e effort) processor() float64 { return e.cpu.Seconds() }

// measured counts the processor time of this program, of the office and of PostgreSQL while work is done.
func (o *office) measured(work func() (time.Duration, error)) (e effort, err error) {
	before, err := cpuTime(os.Getpid(), o.process.Process.Pid, o.cluster.PID())
	if err != nil {
		return e, err
	}
	if e.took, err = work(); err != nil {
		return e, err
	}
	after, err := cpuTime(os.Getpid(), o.process.Process.Pid, o.cluster.PID())
	e.cpu = after - before
	return e, err
}

// cpuTime is what processes and their children have used, ended ones that were waited for too, as Linux counts it (proc(5),
// /proc/pid/stat: hundredths of a second).
func cpuTime(roots ...int) (sum time.Duration, err error) {
	files, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		return 0, err
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			continue // it has ended
		}
		// The name before it may hold spaces.
		fields := strings.Fields(string(text[bytes.LastIndexByte(text, ')')+1:]))
		pid, err := strconv.Atoi(filepath.Base(filepath.Dir(file)))
		if err != nil {
			return 0, err
		}
		parent, err := strconv.Atoi(fields[1])
		if err != nil {
			return 0, err
		}
		if !slices.Contains(roots, pid) && !slices.Contains(roots, parent) {
			continue
		}
		for _, field := range fields[11:15] { // of its own and of its ended children, for itself and for the system
			hundredths, err := strconv.Atoi(field)
			if err != nil {
				return 0, err
			}
			sum += time.Duration(hundredths) * 10 * time.Millisecond
		}
	}
	return sum, nil
}

// generate fills the scratch database with a season of priced barrels, every fiftieth of two owners. A trial run reads the
// standing advances and the deliveries; payouts with their words and lines are left out, and with them the checks that they
// are there.
func (b bench) generate(ctx context.Context, barrels int) error {
	if err := b.exec(ctx, "CREATE DATABASE "+scratch); err != nil {
		return err
	}
	if err := migrations.Up(ctx, settlement.Schema, b.cluster.URL(scratch)); err != nil {
		return err
	}
	for _, sql := range []string{
		`INSERT INTO settlement.intake_member SELECT 'members/M-' || to_char(n, 'FM00000'), 'Member ' || n FROM generate_series(1, ` + strconv.Itoa(sellers) + `) n`,
		`INSERT INTO settlement.intake_barrel SELECT gen_random_uuid(), gen_random_uuid(), 'FC-2020-' || n, 'members/M-' || to_char(1 + n % ` + strconv.Itoa(sellers) + `, 'FM00000'),
			'FC-' || n, (ARRAY['clover','basswood','goldenrod','wildflower'])[1 + n % 4], 600000 + 100 * (n % 599), 2020, '2020-09-14', true FROM generate_series(1, ` + strconv.Itoa(barrels) + `) n`,
		`INSERT INTO settlement.standing_advance (barrel, payout, member, certificate, crop_year, variety, color_class, grade, share, payable, step, gross_amount)
			SELECT b.barrel, gen_random_uuid(), o.member, gen_random_uuid(), crop_year, variety,
				(ARRAY['WHITE','EXTRA_LIGHT_AMBER','LIGHT_AMBER','AMBER'])[1 + net / 100 % 4], 'A', o.share, net * o.share / 1000000, -(net / 100 % 3), net / 1000 * 110 * o.share / 1000000
			FROM settlement.intake_barrel b, LATERAL (SELECT b.member, CASE WHEN substr(drum_tag, 4)::integer % 50 = 0 THEN 600000 ELSE 1000000 END AS share
				UNION ALL SELECT 'members/M-00000', 400000 WHERE substr(drum_tag, 4)::integer % 50 = 0) o`,
		`VACUUM ANALYZE settlement.standing_advance`, `VACUUM ANALYZE settlement.intake_barrel`, `CHECKPOINT`,
	} {
		if err := b.onScratch(ctx, func(conn *pgx.Conn) error {
			_, err := conn.Exec(ctx, "SET session_replication_role = replica")
			if err == nil {
				_, err = conn.Exec(ctx, sql)
			}
			return err
		}); err != nil {
			return err
		}
	}
	return nil
}

func (b bench) onScratch(ctx context.Context, work func(conn *pgx.Conn) error) (err error) {
	conn, err := pgx.Connect(ctx, b.cluster.URL(scratch))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close(ctx)) }()
	return work(conn)
}

// openOffice starts the settlement program, built beside this one, on the scratch database.
func (b bench) openOffice(ctx context.Context) (*office, func() error, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, nil, err
	}
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return nil, nil, err
	}
	cfg := b.Services["settlement"]
	cfg.Listen, cfg.Database = lis.Addr().String(), config.Database{URL: b.cluster.URLAs("settlement_app", "", scratch)}
	dir, err := os.MkdirTemp("", "office")
	if err != nil {
		return nil, nil, errors.Join(err, lis.Close())
	}
	text, err := json.Marshal(cfg)
	if err = errors.Join(err, lis.Close(), os.WriteFile(filepath.Join(dir, "settlement.json"), text, 0o600)); err != nil {
		return nil, nil, err
	}
	cmd := exec.Command(filepath.Join(filepath.Dir(self), "settlement"), "-config", filepath.Join(dir, "settlement.json")) //nolint:gosec,noctx // our own program, stopped by name below
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		return nil, nil, err
	}
	ask := b.Services["gateway"]
	ask.Peers = maps.Clone(ask.Peers)
	ask.Peers["settlement"] = cfg.Listen
	conn, err := rpcdial.Dial(ctx, ask, "settlement")
	stop := func() error {
		return errors.Join(conn.Close(), cmd.Process.Signal(syscall.SIGTERM), cmd.Wait(), os.RemoveAll(dir))
	}
	return &office{bench: b, process: cmd, client: settlementv1.NewSettlementServiceClient(conn)}, stop, err
}

func clerk(ctx context.Context) context.Context {
	return access.Outgoing(ctx, access.Actor{Login: "users/office", Roles: []accessv1.Role{accessv1.Role_ROLE_OFFICE}})
}

func (o *office) openPool(ctx context.Context) error {
	p := &settlementv1.Pool{CropYear: settledYear, Title: "Table honey"}
	for i, color := range []string{"WHITE", "EXTRA_LIGHT_AMBER", "LIGHT_AMBER", "AMBER"} {
		p.Differentials = append(p.Differentials, &settlementv1.Differential{
			ColorClass: color, Grade: "A", Amount: &typev1.Price{Amount: []string{"0.05", "0.00", "-0.12", "-0.25"}[i], CurrencyCode: "USD", PerUnit: "LB"},
		})
	}
	made, err := o.client.OpenPool(clerk(ctx), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: p}, grpc.WaitForReady(true))
	if err != nil {
		return err
	}
	o.pool = made.GetName()
	_, err = o.client.RecordPoolEntry(clerk(ctx), &settlementv1.RecordPoolEntryRequest{RequestId: uuid.NewString(), Pool: o.pool, Entry: &settlementv1.PoolEntry{
		Kind: settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, Amount: &typev1.Money{Amount: "1250000000.00", CurrencyCode: "USD"},
		Description: "Sales of the season", Document: "Sales journal", EntryDate: "2021-05-31",
	}})
	return err
}

// rehearse makes a run and keeps its lines for the bare COPY.
func (o *office) rehearse(ctx context.Context) ([]byte, error) {
	if _, err := o.trialRun(ctx); err != nil {
		return nil, fmt.Errorf("trial run: %w", err)
	}
	var lines bytes.Buffer
	err := o.onScratch(ctx, func(conn *pgx.Conn) error {
		// Otherwise it would be vacuumed while the next trial run is measured.
		if _, err := conn.Exec(ctx, "CREATE TABLE public.bare_line (LIKE settlement.run_line) WITH (autovacuum_enabled = off)"); err != nil {
			return err
		}
		_, err := conn.PgConn().CopyTo(ctx, &lines, "COPY (SELECT * FROM settlement.run_line ORDER BY barrel, part) TO STDOUT (FORMAT binary)")
		return err
	})
	return lines.Bytes(), err
}

// trialRun is what the office does, from the call to the run. The lines of the run before are taken away first, so that every
// round finds the same table.
func (o *office) trialRun(ctx context.Context) (time.Duration, error) {
	if err := o.onScratch(ctx, func(conn *pgx.Conn) error {
		_, err := conn.Exec(ctx, "TRUNCATE settlement.run_piece, settlement.run_member")
		return err
	}); err != nil {
		return 0, err
	}
	began := time.Now()
	stream, err := o.client.FollowRunPreparation(clerk(ctx), &settlementv1.FollowRunPreparationRequest{RequestId: uuid.NewString(), Pool: o.pool})
	if err != nil {
		return 0, err
	}
	var last *settlementv1.FollowRunPreparationResponse
	for {
		next, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return 0, err
		}
		last = next
	}
	if last.GetRun() == nil {
		return 0, errors.New("the calculation ended without a run")
	}
	return time.Since(began), nil
}

// bareSQL is the least a trial run could do.
func (o *office) bareSQL(ctx context.Context, lines []byte) (took time.Duration, err error) {
	err = o.onScratch(ctx, func(conn *pgx.Conn) error {
		if _, err := conn.Exec(ctx, "TRUNCATE public.bare_line"); err != nil {
			return err
		}
		began := time.Now()
		rows, err := conn.Query(ctx, `SELECT member, count(*), sum(payable), sum(round(payable * 1893330::numeric / 10000000) + step), sum(gross_amount)
			FROM settlement.standing_advance GROUP BY member`)
		if err != nil {
			return err
		}
		for rows.Next() { // the sums are only fetched
		}
		if err := rows.Err(); err != nil {
			return err
		}
		_, err = conn.PgConn().CopyFrom(ctx, bytes.NewReader(lines), "COPY public.bare_line FROM STDIN (FORMAT binary)")
		took = time.Since(began)
		return err
	})
	return took, err
}

// peakMemory is the most a process has held, in bytes, as Linux counts it.
func peakMemory(pid int) (int64, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	for line := range strings.Lines(string(text)) {
		if size, found := strings.CutPrefix(line, "VmHWM:"); found {
			kib, err := strconv.ParseInt(strings.Fields(size)[0], 10, 64)
			return kib << 10, err
		}
	}
	return 0, errors.New("the system does not say how much memory a process has held")
}
