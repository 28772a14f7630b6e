package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os/exec"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

const readers = 4

// payout puts reading one payout through gateway, gRPC and PostgreSQL beside a bare handler that serves the same bytes.
func (p plan) payout(ctx context.Context, b bench) error {
	crew, client := b.crew()
	if err := crew.Prepare(ctx, client, "admin", password); err != nil {
		return err
	}
	var page settlementv1.ListPayoutsResponse
	if err := crew.Session("office").Get(ctx, "/v1/members/M-0001/payouts?page_size=1", &page); err != nil {
		return err
	}
	path := "/v1/" + page.GetPayouts()[0].GetName()
	_, body, err := crew.Session("office").Send(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	bare, stop, err := serveBytes(ctx, body)
	if err != nil {
		return err
	}
	defer stop()
	plain := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: readers}}
	return p.compare(fmt.Sprintf("payout GET, %d readers, %d bytes", readers, len(body)), "bare HTTP handler, same bytes",
		func() (sample, error) {
			return load(ctx, readers, p.length, func(ctx context.Context, _ int) error {
				status, _, err := crew.Session("office").Send(ctx, http.MethodGet, path, nil)
				if err == nil && status != http.StatusOK {
					return fmt.Errorf("%s answered %d", path, status)
				}
				return err
			})
		},
		func() (sample, error) {
			return load(ctx, readers, p.length, func(ctx context.Context, _ int) error { return fetch(ctx, plain, bare) })
		})
}

func serveBytes(ctx context.Context, body []byte) (string, func(), error) {
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return "", nil, err
	}
	server := &http.Server{ReadHeaderTimeout: time.Minute, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		_, _ = w.Write(body) // the reader went away
	})}
	go func() { _ = server.Serve(lis) }() // ends with Close
	return "http://" + lis.Addr().String(), func() { _ = server.Close() }, nil
}

func fetch(ctx context.Context, client *http.Client, url string) (err error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return err
	}
	resp, err := client.Do(req)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, resp.Body.Close()) }()
	_, err = io.Copy(io.Discard, resp.Body)
	return err
}

const priced = 1_000_000

// pricing puts pricing a million barrels in memory beside PostgreSQL adding up the same formula over as many rows.
func (p plan) pricing(ctx context.Context, b bench) error {
	if err := b.exec(ctx, `CREATE UNLOGGED TABLE IF NOT EXISTS public.priced AS
SELECT 600000 + (n * 7919) % 60000 AS net, 1600 + (n * 31) % 400 AS water, 1150000 AS price FROM generate_series(1, $1::bigint) n`, priced); err != nil {
		return err
	}
	return p.compare("pricing 1,000,000 barrels (barrels a second)", "SQL sum of the same formula over as many rows",
		func() (sample, error) { return priceInMemory(ctx) }, func() (sample, error) { return b.priceInSQL(ctx) })
}

// priceInMemory runs the benchmark of the pricing rules themselves.
func priceInMemory(ctx context.Context) (sample, error) {
	out, err := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-bench", "^BenchmarkPriceMillionBarrels$", "-benchtime", "5x",
		"barrelhead.example/services/settlement/internal/domain").CombinedOutput()
	if err != nil {
		return sample{}, fmt.Errorf("%w: %s", err, out)
	}
	fields := strings.Fields(string(out))
	for i, field := range fields {
		if field == "ns/barrel" {
			ns, err := strconv.ParseFloat(fields[i-1], 64)
			return sample{1e9 / ns, time.Duration(ns * priced)}, err
		}
	}
	return sample{}, fmt.Errorf("no ns/barrel in: %s", out)
}

func (b bench) priceInSQL(ctx context.Context) (_ sample, err error) {
	conn, err := pgx.Connect(ctx, b.cluster.URL("barrelhead"))
	if err != nil {
		return sample{}, err
	}
	defer func() { err = errors.Join(err, conn.Close(ctx)) }()
	began := time.Now()
	var total string
	err = conn.QueryRow(ctx, `SELECT sum(round(round(net * least(10000 - water, 8140)::numeric / 8140, -2) * price / 10000000))::text FROM public.priced`).Scan(&total)
	took := time.Since(began)
	return sample{priced / took.Seconds(), took}, err
}
