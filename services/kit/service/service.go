// Package service is the frame every service runs in: settings, log, database, its own feed, the neighbours' feeds and the
// gRPC server begin together and end together. A service brings its Parts.
package service

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"barrelhead.example/migrations"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedadmin"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/telemetry"
)

// Service is a service about to serve.
type Service struct {
	config.Service
	// Schema is the service's name and that of its tables.
	Schema string
	Log    *zap.Logger
	DB     *pg.DB

	conns []*grpc.ClientConn
}

// Parts is what makes a service this one and not another.
type Parts struct {
	// Own are its gRPC services, which the gateway alone may call.
	Own []string
	// Register registers them.
	Register func(r grpc.ServiceRegistrar)
	// Readers are the certificate names that may follow its feed.
	Readers []string
	// Consumers follow the feeds of its neighbours; see Service.Follow.
	Consumers []*feed.Consumer
	// Beside is what else runs until the context ends, which is no failure.
	Beside []func(ctx context.Context) error
}

// Listen opens the address for calls.
func Listen(ctx context.Context, cfg config.Service) (net.Listener, error) {
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", cfg.Listen)
	if err != nil {
		return nil, fmt.Errorf("listen for calls: %w", err)
	}
	return lis, nil
}

// Serve runs a service on an open listener until ctx ends, then drains and returns nil. assemble is called once the
// database is there. It closes the listener, whatever happens.
func Serve(ctx context.Context, schema string, cfg config.Service, lis net.Listener,
	assemble func(ctx context.Context, s *Service) (Parts, error),
) (err error) {
	defer func() {
		// A server that ran has closed its listener, one that never began has not.
		if closed := lis.Close(); !errors.Is(closed, net.ErrClosed) {
			err = errors.Join(err, closed)
		}
	}()
	cfg.Name = cmp.Or(cfg.Name, schema)
	s, err := open(ctx, schema, cfg)
	if err != nil && ctx.Err() != nil {
		return nil // told to stop while waiting for the database
	}
	if err != nil {
		return fmt.Errorf("%s: %w", schema, err)
	}
	defer s.close()
	parts, err := assemble(ctx, s)
	if err != nil {
		return fmt.Errorf("%s: %w", schema, err)
	}
	if err := s.serve(ctx, lis, parts); err != nil {
		return fmt.Errorf("%s: %w", schema, err)
	}
	return nil
}

func open(ctx context.Context, schema string, cfg config.Service) (*Service, error) {
	log, err := logging.New(cfg.Name, cfg.LogLevel)
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
	return &Service{Service: cfg, Schema: schema, Log: log, DB: db}, nil
}

// close ends what assembling opened. At the end there is nobody left to tell.
func (s *Service) close() {
	for _, conn := range s.conns {
		_ = conn.Close()
	}
	s.DB.Close()
}

// Follow completes a consumer of the neighbour named source. The connection opens when it can, so the neighbour may be down.
func (s *Service) Follow(ctx context.Context, source string, c *feed.Consumer) (*feed.Consumer, error) {
	conn, err := rpcdial.Dial(ctx, s.Service, source)
	if err != nil {
		return nil, err
	}
	s.conns = append(s.conns, conn)
	c.Source, c.DB, c.Clock, c.Log, c.Client = source, s.DB, s.Time(), s.Log, feedv1.NewFeedServiceClient(conn)
	return c, nil
}

// serve runs everything side by side; it ends with the server, also when that ends by itself.
func (s *Service) serve(ctx context.Context, lis net.Listener, parts Parts) error {
	metrics := telemetry.New(s.Schema)
	if err := metrics.Register(feed.Metrics(s.DB)); err != nil {
		return fmt.Errorf("register metrics: %w", err)
	}
	own := feed.NewServer(s.DB, feed.WithDraining(rpcserve.Draining))
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	group, ctx := errgroup.WithContext(ctx)
	group.Go(func() error {
		defer stop()
		return rpcserve.Serve(ctx, s.options(metrics, parts), lis, func(r grpc.ServiceRegistrar) {
			parts.Register(r)
			feedv1.RegisterFeedServiceServer(r, own)
			feedv1.RegisterFeedAdminServiceServer(r, feedadmin.New(s.DB, s.Time(), parts.Consumers...))
		})
	})
	beside := append(parts.Beside, own.Run) //nolint:gocritic // the parts are used once
	for _, c := range parts.Consumers {
		beside = append(beside, c.Run)
	}
	for _, run := range beside {
		group.Go(func() error {
			if err := run(ctx); ctx.Err() == nil {
				return err
			}
			return nil // being told to stop is no failure
		})
	}
	return group.Wait()
}

// options say who may call: people through the gateway, and the neighbours that read this service's feed.
func (s *Service) options(metrics *telemetry.Registry, parts Parts) rpcserve.Options {
	allow := map[string][]string{
		feedv1.FeedService_ServiceDesc.ServiceName:      parts.Readers,
		feedv1.FeedAdminService_ServiceDesc.ServiceName: {rpcserve.Gateway},
	}
	for _, name := range parts.Own {
		allow[name] = []string{rpcserve.Gateway}
	}
	return rpcserve.Options{
		Config: s.Service, Log: s.Log, Metrics: metrics, Allow: allow,
		Health: func(ctx context.Context) error { return s.DB.Ready(ctx, migrations.Latest(s.Schema)) },
	}
}
