// Package inventory is the warehouse service: barrels in stock, where they stand and what holds them. It reads the feeds
// of intake and grading and calls nobody to answer a request.
package inventory

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"net"
	"slices"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"barrelhead.example/migrations"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/project"
	"barrelhead.example/services/inventory/internal/rpc"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedadmin"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/telemetry"
)

const schema = "inventory"

// Config is the settings file of the service.
type Config struct {
	config.Service
}

// Run serves on the configured address until ctx ends.
func Run(ctx context.Context, cfg Config) error {
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", cfg.Listen)
	if err != nil {
		return fmt.Errorf("listen for calls: %w", err)
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) error {
	s, err := open(ctx, cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	defer s.close()
	return s.serve(ctx, lis)
}

// service is everything wired together.
type service struct {
	cfg       Config
	log       *zap.Logger
	db        *pg.DB
	app       *app.App
	consumers map[string]*feed.Consumer // by source
	conns     []*grpc.ClientConn
}

func open(ctx context.Context, cfg Config) (*service, error) {
	log, err := logging.New(schema, cfg.LogLevel)
	if err != nil {
		return nil, err
	}
	unit, err := quantity.ParseUnit(cfg.Cooperative.Unit)
	if err != nil {
		return nil, fmt.Errorf("settings of the cooperative: %w", err)
	}
	zone, err := cfg.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	url, err := cfg.Database.Connection()
	if err != nil {
		return nil, err
	}
	db, err := pg.Open(ctx, pg.Config{URL: url, Schema: schema}, log)
	if err != nil {
		return nil, err
	}
	s := &service{
		cfg: cfg, log: log, db: db,
		app: (&app.App{
			DB: db, Clock: cfg.Time(), Unit: unit, Currency: cfg.Cooperative.Currency, Site: cfg.Cooperative.Site, Zone: zone,
			Stock: store.Store{}, Lots: store.Store{},
		}).Ready(),
	}
	if err := s.follow(ctx, project.Project{Unit: unit, Store: store.Store{}}); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

// follow prepares the consumers of the neighbours' feeds.
func (s *service) follow(ctx context.Context, p project.Project) error {
	s.consumers = map[string]*feed.Consumer{
		"intake":  {Name: "stock", Apply: p.Intake, ReadTables: store.IntakeTables},
		"grading": {Name: "grades", Apply: p.Grading, ReadTables: store.GradingTables},
	}
	for source, c := range s.consumers {
		conn, err := rpcdial.Dial(ctx, s.cfg.Service, source)
		if err != nil {
			return err
		}
		s.conns = append(s.conns, conn)
		c.Source, c.DB, c.Client, c.Log = source, s.db, feedv1.NewFeedServiceClient(conn), s.log
	}
	return nil
}

func (s *service) close() {
	for _, conn := range s.conns {
		if err := conn.Close(); err != nil {
			s.log.Warn("close connection", zap.Error(err))
		}
	}
	s.db.Close()
}

func (s *service) serve(ctx context.Context, lis net.Listener) error {
	own := feed.NewServer(s.db, feed.WithDraining(rpcserve.Draining))
	// What runs beside the server ends with it, also when the server ends by itself.
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	g, beside := errgroup.WithContext(ctx)
	metrics := telemetry.New(schema)
	if err := metrics.Register(feed.Metrics(s.db)); err != nil {
		return errors.Join(fmt.Errorf("register metrics: %w", err), lis.Close())
	}
	g.Go(func() error {
		defer stop()
		return rpcserve.Serve(beside, s.options(metrics), lis, func(r grpc.ServiceRegistrar) {
			inventoryv1.RegisterInventoryServiceServer(r, rpc.New(s.app))
			feedv1.RegisterFeedServiceServer(r, own)
			feedv1.RegisterFeedAdminServiceServer(r, feedadmin.New(s.db, s.app.Clock, slices.Collect(maps.Values(s.consumers))...))
		})
	})
	g.Go(func() error {
		// Being told to stop is no failure.
		if err := own.Run(beside); beside.Err() == nil {
			return err
		}
		return nil
	})
	for _, c := range s.consumers {
		g.Go(func() error { return c.Run(beside) })
	}
	g.Go(func() error {
		if err := s.app.WarmUp(beside); err != nil && beside.Err() == nil {
			s.log.Warn("read the ledger ahead; the first trace will", zap.Error(err))
		}
		return nil
	})
	return g.Wait()
}

func (s *service) options(metrics *telemetry.Registry) rpcserve.Options {
	return rpcserve.Options{
		Config: s.cfg.Service, Log: s.log, Health: s.health, Metrics: metrics,
		Allow: map[string][]string{
			inventoryv1.InventoryService_ServiceDesc.ServiceName: {rpcserve.Gateway},
			feedv1.FeedService_ServiceDesc.ServiceName:           {"settlement"},
			feedv1.FeedAdminService_ServiceDesc.ServiceName:      {rpcserve.Gateway},
		},
	}
}

// Migrate brings the schema to the newest version. The connection string must be that of the schema's owner.
func Migrate(ctx context.Context, cfg Config) error {
	url, err := cfg.Database.Connection()
	if err != nil {
		return err
	}
	return migrations.Up(ctx, schema, url)
}

func (s *service) health(ctx context.Context) error {
	return s.db.Ready(ctx, migrations.Latest(schema))
}
