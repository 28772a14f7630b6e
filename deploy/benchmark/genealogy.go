package main

import (
	"context"
	"crypto/md5" //nolint:gosec // names numbers as the database does, no secret
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpcdial"
)

// makeGenealogy is a house of many years: chains of twelve charges, each with a heel of the one before, eighteen barrels, rework in
// a circle and twelve shipments; after twelve the tank was verified empty. Names follow from their numbers.
const makeGenealogy = `
WITH c AS (SELECT g AS n, md5('charge ' || g)::uuid AS id, md5('lot ' || g)::uuid AS lot, g % 12 > 0 AS heel FROM generate_series(1, $1::int) g)
INSERT INTO transfer (transfer, from_place, to_place, mass, actor, transfer_time, reason)
SELECT md5(t.a || t.b || t.o)::uuid, t.a, t.b, t.mass, 'users/warehouse', now() - interval '1 year', '' FROM (
    SELECT n, 0 AS o, 'charges/' || md5('charge ' || n - 1)::uuid AS a, 'charges/' || id AS b, 300000 AS mass FROM c WHERE heel AND n > 1
    UNION ALL SELECT n, k, 'stock/' || md5('barrel ' || n * 100 + k)::uuid, 'charges/' || id, 636000 FROM c, generate_series(1, 18) k
    UNION ALL SELECT n, k + 20, 'stock/' || md5('barrel ' || n * 100 + k)::uuid, 'losses/DRAIN', 4000 FROM c, generate_series(1, 18) k
    UNION ALL SELECT n, 40, 'charges/' || id, 'packLots/' || lot, 5000000 FROM c
    UNION ALL SELECT n, 41, 'packLots/' || lot, 'charges/' || id, 100000 FROM c
    UNION ALL SELECT n, 42, 'charges/' || id, 'packLots/' || lot, 6200000 FROM c
    UNION ALL SELECT n, 43 + k, 'packLots/' || lot, 'shipments/' || md5('shipment ' || n || ' ' || k)::uuid, 900000 FROM c, generate_series(1, 12) k
) t ORDER BY t.n, t.o`

// What the transfers are about: barrels, charges, lots and shipments, with what is left in them.
var genealogyThings = []string{
	`INSERT INTO tank (tank, capacity, create_time) VALUES ('BENCH', 100000000, now())`,
	`INSERT INTO tank_state (tank) VALUES ('BENCH')`,
	`INSERT INTO label (label, title, variety, min_share, creator, create_time) VALUES ('BENCH', 'Honey', '', 0, 'users/office', now())`,
	`INSERT INTO barrel SELECT md5('barrel ' || n * 100 + k)::uuid, md5('ticket')::uuid, 'members/M-' || lpad((n % 400)::text, 4, '0'), 'B-' || n * 100 + k, 640000, 'clover', 2020,
	 '2020-09-14', false FROM generate_series(1, $1::int) n, generate_series(1, 18) k`,
	`INSERT INTO standing (barrel, location, moves, taken) SELECT md5('barrel ' || n * 100 + k)::uuid, 'DOCK', 0, 640000 FROM generate_series(1, $1::int) n, generate_series(1, 18) k`,
	`INSERT INTO charge (charge, tank, variety, min_share, picks, opener, open_time, code)
	 SELECT md5('charge ' || n)::uuid, 'BENCH', '', 0, '{}', 'users/warehouse', now(), 'BENCH-26-' || n FROM generate_series(1, $1::int) n`,
	`INSERT INTO pack_lot (pack_lot, code, label, line, starter, start_time)
	 SELECT md5('lot ' || n)::uuid, 'BENCH' || n, 'BENCH', 'L1', 'users/line', now() FROM generate_series(1, $1::int) n`,
	`INSERT INTO shipment (shipment, customer, carrier, shipper, ship_time)
	 SELECT md5('shipment ' || n || ' ' || k)::uuid, 'Customer ' || n % 50, 'Valley Freight', 'users/line', now() FROM generate_series(1, $1::int) n, generate_series(1, 12) k`,
	`INSERT INTO vessel (place, content) SELECT p.place, coalesce((SELECT sum(mass) FROM transfer WHERE to_place = p.place), 0) - coalesce((SELECT sum(mass) FROM transfer WHERE from_place = p.place), 0)
	 FROM (SELECT 'charges/' || md5('charge ' || n)::uuid AS place FROM generate_series(1, $1::int) n UNION ALL SELECT 'packLots/' || md5('lot ' || n)::uuid FROM generate_series(1, $1::int) n) p`,
	`ANALYZE`,
}

// bareTrace is the same question in one recursive query: every transfer backwards and forwards. UNION ends circles.
const bareTrace = `
WITH RECURSIVE up AS (SELECT $1::text AS place UNION SELECT t.from_place FROM transfer t JOIN up u ON t.to_place = u.place),
down AS (SELECT $1::text AS place UNION SELECT t.to_place FROM transfer t JOIN down d ON t.from_place = d.place)
SELECT count(*), sum(mass) FROM transfer t
WHERE t.to_place IN (SELECT place FROM up WHERE place NOT LIKE 'losses/%') OR t.from_place IN (SELECT place FROM down)`

const edgesPerCharge = 52

// genealogy puts recall traces of random jars and barrels over a long ledger beside bare recursive queries.
func (p plan) genealogy(ctx context.Context, b bench) (err error) {
	charges := p.transfers / edgesPerCharge
	db, err := pgx.Connect(ctx, b.cluster.URL("barrelhead"))
	if err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	defer func() { err = errors.Join(err, db.Close(context.WithoutCancel(ctx))) }()
	if err := fillGenealogy(ctx, db, charges); err != nil {
		return err
	}
	conn, err := rpcdial.Dial(ctx, b.Services["gateway"], "inventory")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	r := recall{inventoryv1.NewInventoryServiceClient(conn), db, recallSeeds(charges)}
	began := time.Now()
	if err := r.ask(ctx, 0); err != nil {
		return err
	}
	what := fmt.Sprintf("recall trace both ways, %d seeds in %d transfers, all of it found each time", len(r.seeds), charges*edgesPerCharge)
	fmt.Printf("%s: the first, with the ledger read, took %s\n", what, time.Since(began).Round(time.Millisecond))
	return p.compare(what, "bare recursive SQL for the same places",
		func() (sample, error) { return load(ctx, 1, p.length, r.each(r.ask)) },
		func() (sample, error) { return load(ctx, 1, p.length, r.each(r.query)) })
}

// recall asks about the same seeds in either way.
type recall struct {
	inventory inventoryv1.InventoryServiceClient
	db        *pgx.Conn
	seeds     []string
}

// recallSeeds are jars and barrels from anywhere in the history.
func recallSeeds(charges int) []string {
	r := rand.New(rand.NewPCG(1, 1)) //nolint:gosec // the same every time
	seeds := make([]string, 500)
	for i := range seeds {
		n := 1 + r.IntN(charges)
		if i%2 == 0 {
			seeds[i] = "packLots/" + named(fmt.Sprint("lot ", n))
			continue
		}
		seeds[i] = "stock/" + named(fmt.Sprint("barrel ", n*100+1+r.IntN(18)))
	}
	return seeds
}

// named is the name the database makes of a number.
func named(text string) string { return uuid.UUID(md5.Sum([]byte(text))).String() } //nolint:gosec // no secret

func (r recall) each(do func(context.Context, int) error) func(context.Context, int) error {
	n := 0
	return func(ctx context.Context, _ int) error {
		n++
		return do(ctx, n%len(r.seeds))
	}
}

func (r recall) ask(ctx context.Context, n int) error {
	ctx = access.Outgoing(ctx, access.Actor{Login: "users/auditor", Roles: []accessv1.Role{accessv1.Role_ROLE_AUDITOR}})
	found, err := r.inventory.Trace(ctx, &inventoryv1.TraceRequest{Name: r.seeds[n]})
	if err == nil && found.GetAccountedPercent() != "100.0" {
		return fmt.Errorf("%s: only %s percent found", r.seeds[n], found.GetAccountedPercent())
	}
	return err
}

func (r recall) query(ctx context.Context, n int) error {
	var transfers, mass int64
	if err := r.db.QueryRow(ctx, bareTrace, r.seeds[n]).Scan(&transfers, &mass); err != nil {
		return fmt.Errorf("recursive query: %w", err)
	}
	return nil
}

func fillGenealogy(ctx context.Context, db *pgx.Conn, charges int) error {
	for _, sql := range slices.Concat([]string{`SET search_path = inventory`, makeGenealogy}, genealogyThings) {
		var args []any
		if strings.Contains(sql, "$1") {
			args = append(args, charges)
		}
		if _, err := db.Exec(ctx, sql, args...); err != nil {
			return fmt.Errorf("fill the ledger: %w", err)
		}
	}
	return nil
}
