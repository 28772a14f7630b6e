// Package suite runs the whole of Barrelhead in one process: a private PostgreSQL cluster unless it is given a server, the
// four services and the gateway, talking real gRPC with mutual TLS over loopback. It is how a small cooperative runs on its
// one machine, and what the demo and the tests run.
package suite

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"

	"barrelhead.example/deploy/certs"
	"barrelhead.example/gateway"
	"barrelhead.example/migrations"
	"barrelhead.example/services/grading"
	"barrelhead.example/services/intake"
	"barrelhead.example/services/inventory"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/pgrun"
	"barrelhead.example/services/settlement"
)

// database is the one the schemas of all services live in.
const database = "barrelhead"

// clusterFolder holds the private cluster, beside what else is kept.
const clusterFolder = "postgres"

// accountKey is the file with the key of bank account numbers.
const accountKey = "accounts.key"

// stopTime bounds how long PostgreSQL may take to write its last checkpoint.
const stopTime = 40 * time.Second

// Options of a suite.
type Options struct {
	// Home holds everything that is kept: the database cluster and the certificates.
	Home string
	// Databases maps each schema to a connection string for its service role, all migrated. Empty runs a private
	// cluster under Home.
	Databases map[string]string
	// Listen is the gateway's address, e.g. "127.0.0.1:8420"; port 0 takes any free one.
	Listen string
	// Cooperative that runs the suite.
	Cooperative config.Cooperative
	// Dock is what the cooperative decides about its dock, the indicators of its scales among it; see intake.House.
	Dock intake.House
	// GS1Prefix and DisputeDays are what the gateway prints with; see gateway.Config.
	GS1Prefix   string
	DisputeDays int
	// Office is what the cooperative decides about its office, its bank among it; see settlement.House.
	Office settlement.House
	// Clock is what the four services go by, for tests; nil is the machine's. The gateway always goes by the machine's.
	Clock clock.Clock
	Log   *zap.Logger
}

// Running is a suite that answers.
type Running struct {
	// URL of the gateway.
	URL string
	// Services are the settings each process runs with.
	Services map[string]config.Service
}

// Run starts everything, calls ready once the gateway listens, and stops in the reverse order when ctx ends.
func Run(ctx context.Context, o Options, ready func(context.Context, Running) error) (err error) {
	if o.Databases == nil {
		cluster, err2 := startCluster(ctx, o)
		if err2 != nil {
			return err2
		}
		defer func() {
			stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
			defer cancel()
			err = errors.Join(err, cluster.Stop(stop))
		}()
		if o.Databases, err = Migrate(ctx, cluster); err != nil {
			return err
		}
	}
	if _, err := certs.Ensure(o.certDir(), certs.Names(), time.Now()); err != nil {
		return fmt.Errorf("certificates: %w", err)
	}
	return o.serve(ctx, ready)
}

func (o Options) certDir() string { return filepath.Join(o.Home, "certs") }

func startCluster(ctx context.Context, o Options) (*pgrun.Cluster, error) {
	config, err := o.clusterConfig()
	if err != nil {
		return nil, err
	}
	return pgrun.Start(ctx, config)
}

func (o Options) clusterConfig() (pgrun.Config, error) {
	if err := os.MkdirAll(o.Home, 0o755); err != nil { //nolint:gosec // PostgreSQL runs as another user when we are root and must reach its folder below
		return pgrun.Config{}, err
	}
	// Root lends the server a user of its own, who may not enter the home of root: the database then lives where a
	// system service keeps its data, under a name made of the path it belongs to.
	elsewhere := filepath.Join("/var/lib/barrelhead", strings.ReplaceAll(strings.Trim(o.Home, "/"), "/", "-"))
	place, err := pgrun.Place(o.Home, elsewhere)
	if err != nil {
		return pgrun.Config{}, err
	}
	if place != o.Home {
		o.Log.Warn("the database user may not enter this folder, so the database is kept elsewhere", zap.String("folder", o.Home), zap.String("database", place))
		if err := os.MkdirAll(place, 0o755); err != nil { //nolint:gosec // as above
			return pgrun.Config{}, err
		}
	}
	return pgrun.Config{Dir: filepath.Join(place, clusterFolder)}, nil
}

// Migrate makes the database, the roles and the newest tables of every schema, and returns each service's connection
// string. Repeating it changes nothing.
func Migrate(ctx context.Context, cluster *pgrun.Cluster) (map[string]string, error) {
	if err := createDatabase(ctx, cluster.URL("postgres")); err != nil {
		return nil, err
	}
	urls := map[string]string{}
	for _, schema := range migrations.Schemas() {
		if err := migrations.Up(ctx, schema, cluster.URL(database)); err != nil {
			return nil, fmt.Errorf("migrate %s: %w", schema, err)
		}
		urls[schema] = cluster.URLAs(schema+"_app", "", database)
	}
	return urls, nil
}

// serve opens every listener first, so that each service can be told where its neighbours are before any of them runs.
func (o Options) serve(ctx context.Context, ready func(context.Context, Running) error) error {
	listeners, settings := map[string]net.Listener{}, map[string]config.Service{}
	peers := map[string]string{}
	for _, name := range []string{"intake", "grading", "inventory", "settlement", "gateway"} {
		address := "127.0.0.1:0"
		if name == "gateway" {
			address = o.Listen
		}
		lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", address)
		if err != nil {
			return fmt.Errorf("listen for %s: %w", name, err)
		}
		listeners[name] = lis
		if name != "gateway" {
			peers[name] = lis.Addr().String()
		}
	}
	for name, lis := range listeners {
		settings[name] = config.Service{
			Name: name, Listen: lis.Addr().String(), Database: config.Database{URL: o.Databases[name]},
			TLS: certs.Files(o.certDir(), name), Peers: peers, Cooperative: o.Cooperative, LogLevel: "warn", Clock: o.Clock,
		}
	}
	g, ctx := errgroup.WithContext(ctx)
	for name, run := range o.services(settings) {
		g.Go(func() error {
			if err := run(ctx, listeners[name]); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			return nil
		})
	}
	g.Go(func() error {
		return ready(ctx, Running{URL: "http://" + listeners["gateway"].Addr().String(), Services: settings})
	})
	return g.Wait()
}

func (o Options) services(settings map[string]config.Service) map[string]func(context.Context, net.Listener) error {
	return map[string]func(context.Context, net.Listener) error{
		"intake": func(ctx context.Context, lis net.Listener) error {
			return intake.Serve(ctx, intake.Config{Service: settings["intake"], House: o.Dock}, lis)
		},
		"grading": func(ctx context.Context, lis net.Listener) error {
			return grading.Serve(ctx, grading.Config{
				Service: settings["grading"], SigningKeyFile: filepath.Join(o.certDir(), "certificates.signing.key"),
			}, lis)
		},
		"inventory": func(ctx context.Context, lis net.Listener) error {
			return inventory.Serve(ctx, inventory.Config{Service: settings["inventory"], GS1Prefix: o.GS1Prefix}, lis)
		},
		"settlement": func(ctx context.Context, lis net.Listener) error {
			return settlement.Serve(ctx, settlement.Config{
				Service: settings["settlement"], AccountKeyFiles: []string{filepath.Join(o.certDir(), accountKey)}, House: o.Office,
			}, lis)
		},
		"gateway": func(ctx context.Context, lis net.Listener) error {
			return gateway.Serve(ctx, gateway.Config{Service: settings["gateway"], GS1Prefix: o.GS1Prefix, DisputeDays: o.DisputeDays}, lis)
		},
	}
}
