// Package grading is the laboratory: it measures blind samples and certifies their grade. This file is its only wiring.
package grading

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"barrelhead.example/migrations"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/project"
	"barrelhead.example/services/grading/internal/rpc"
	"barrelhead.example/services/grading/internal/store"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedadmin"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/telemetry"
)

const (
	name   = "grading"
	source = "intake"
)

// Config is what the laboratory is told.
type Config struct {
	config.Service
	// EnforceRereads refuses to release a reading near a limit that was not read twice more.
	EnforceRereads bool `json:"enforce_rereads"`
	// SigningKeyFile holds the Ed25519 key certificates are signed with, PKCS #8 in PEM. A file that does not exist yet is
	// made. Empty leaves certificates unsigned. All replicas must share one file.
	SigningKeyFile string `json:"signing_key_file"`
	// StandardsDir is a folder of further data files (*.json), e.g. a new version of a standard that applies from a day to
	// come. Empty for the published ones alone. All replicas must share its content; a file once used is never taken away.
	StandardsDir string `json:"standards_dir"`
}

// Run serves on Config.Listen until ctx ends.
func Run(ctx context.Context, cfg Config) error {
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", cfg.Listen)
	if err != nil {
		return fmt.Errorf("listen for calls: %w", err)
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) (err error) {
	owned := lis
	defer func() {
		if owned != nil {
			_ = owned.Close() // never served: there is nobody to tell
		}
	}()
	if cfg.Name == "" {
		cfg.Name = name
	}
	log, err := logging.New(cfg.Name, cfg.LogLevel)
	if err != nil {
		return err
	}
	zone, err := cfg.Cooperative.Location()
	if err != nil {
		return err
	}
	signer, err := openSigner(cfg.SigningKeyFile)
	if err != nil {
		return err
	}
	library, err := openLibrary(cfg.StandardsDir)
	if err != nil {
		return err
	}
	db, err := open(ctx, cfg, log)
	if err != nil && ctx.Err() != nil {
		return nil // told to stop while waiting for the database
	}
	if err != nil {
		return err
	}
	defer db.Close()
	intake, err := rpcdial.Dial(ctx, cfg.Service, source)
	if err != nil {
		return err
	}
	defer func() { _ = intake.Close() }() // the process no longer needs it, and a late failure changes nothing
	owned = nil
	s := service{
		cfg: cfg, log: log, db: db,
		app: &app.App{
			DB: db, Clock: cfg.Time(), Zone: zone, Library: library,
			Bench: store.Store{}, Readings: store.Store{}, Releases: store.Store{}, Controls: store.Store{}, Appeals: store.Store{},
			Outside: store.Store{}, Oversight: store.Store{},
			RereadsEnforced: cfg.EnforceRereads, Signer: signer,
		},
		samples: &feed.Consumer{
			Name: "samples", Source: source, DB: db, Client: feedv1.NewFeedServiceClient(intake),
			Apply: project.Intake(store.Store{}), ReadTables: project.ReadTables,
		},
	}
	return s.run(ctx, lis)
}

// service is everything wired together.
type service struct {
	cfg     Config
	log     *zap.Logger
	db      *pg.DB
	app     *app.App
	samples *feed.Consumer
}

func (s *service) run(ctx context.Context, lis net.Listener) error {
	metrics := telemetry.New(name)
	if err := metrics.Register(feed.Metrics(s.db)); err != nil {
		return errors.Join(fmt.Errorf("register metrics: %w", err), lis.Close())
	}
	facts := feed.NewServer(s.db, feed.WithDraining(rpcserve.Draining))
	// What runs beside the server ends with it, also when the server ends by itself.
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	group, beside := errgroup.WithContext(ctx)
	group.Go(func() error {
		defer stop()
		return rpcserve.Serve(beside, s.options(metrics), lis, func(r grpc.ServiceRegistrar) {
			gradingv1.RegisterGradingServiceServer(r, &rpc.Server{App: s.app})
			feedv1.RegisterFeedServiceServer(r, facts)
			feedv1.RegisterFeedAdminServiceServer(r, feedadmin.New(s.db, s.app.Clock, s.samples))
		})
	})
	group.Go(func() error {
		if err := facts.Run(beside); beside.Err() == nil {
			return err
		}
		return nil // being told to stop is no failure
	})
	group.Go(func() error { return s.samples.Run(beside) })
	return group.Wait()
}

// openLibrary adds what the folder holds to the published standards.
func openLibrary(dir string) (*domain.Library, error) {
	if dir == "" {
		return domain.Published(), nil
	}
	library, err := domain.ReadLibrary(os.DirFS(dir))
	if err != nil {
		return nil, fmt.Errorf("standards_dir %s: %w", dir, err)
	}
	return library, nil
}

func open(ctx context.Context, cfg Config, log *zap.Logger) (*pg.DB, error) {
	url, err := cfg.Database.Connection()
	if err != nil {
		return nil, err
	}
	return pg.Open(ctx, pg.Config{URL: url, Schema: name}, log)
}

// options say who may call: people through the gateway, and the services to the right of this one for its feed.
func (s *service) options(metrics *telemetry.Registry) rpcserve.Options {
	return rpcserve.Options{
		Config: s.cfg.Service, Log: s.log, Metrics: metrics,
		Health: func(ctx context.Context) error { return s.db.Ready(ctx, migrations.Latest(name)) },
		Allow: map[string][]string{
			gradingv1.GradingService_ServiceDesc.ServiceName: {rpcserve.Gateway},
			feedv1.FeedService_ServiceDesc.ServiceName:       {"inventory", "settlement"},
			feedv1.FeedAdminService_ServiceDesc.ServiceName:  {rpcserve.Gateway},
		},
	}
}
