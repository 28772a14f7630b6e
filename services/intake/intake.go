// Package intake is the dock: members, scales and their checks, receiving tickets, weighings and samples. It reads no
// neighbour's feed and calls nobody; this file is its only wiring.
package intake

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"barrelhead.example/migrations"
	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/app"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/intake/internal/rpc"
	"barrelhead.example/services/intake/internal/store"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/feedadmin"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/telemetry"
)

const schema = "intake"

// Config is the settings file of the service.
type Config struct {
	config.Service
	// UsualWeights replaces the usual weights of a drum nobody registered, a 55-gallon steel drum, in the cooperative's unit; absent keeps them.
	UsualWeights UsualWeights `json:"usual_weights"`
	// TareVariance is how far an emptied drum may be off its tare before it is listed, in the cooperative's unit; absent or
	// zero means 2 lb or 0.9 kg.
	TareVariance quantity.Mass `json:"tare_variance"`
	// ReweighDays is for how many days after closing a member may have a barrel weighed again; absent or zero means 14.
	ReweighDays int `json:"reweigh_days"`
	// Indicators connects the indicators of scales, by the id of the scale: "2" for scales/2. A scale without one is read by
	// eye. Every replica reads each indicator for itself, so all must be given the same, and reach them.
	Indicators Indicators `json:"indicators"`
	// CaptureAge is how long a weight captured from an indicator may be used for a weighing; absent or zero means 5 minutes.
	CaptureAge config.Duration `json:"capture_age"`
	// RetentionDays is for how many days portions of samples are kept; absent or zero means 365.
	RetentionDays RetentionDays `json:"retention_days"`
}

// RetentionDays is for how many days portions A (laboratory), B (member) and C (referee) are kept. The law and the time for
// appeals decide how few are too few.
type RetentionDays struct {
	A int `json:"a"`
	B int `json:"b"`
	C int `json:"c"`
}

// Check refuses less than nothing.
func (r RetentionDays) Check() []config.Fault {
	var faults []config.Fault
	for _, p := range []struct {
		path string
		days int
	}{{"a", r.A}, {"b", r.B}, {"c", r.C}} {
		if p.days < 0 {
			faults = append(faults, config.Fault{Path: p.path, Message: fmt.Sprintf("is %d, must not be below zero", p.days)})
		}
	}
	return faults
}

// Indicators has the settings of each scale with an indicator.
type Indicators = indicator.Book

// Check lists what is wrong with the settings that are this service's own.
func (c Config) Check() []config.Fault {
	faults := c.Service.Check()
	for _, f := range c.Indicators.Check() {
		faults = append(faults, config.Fault{Path: "indicators." + f.Path, Message: f.Message})
	}
	if c.CaptureAge < 0 {
		faults = append(faults, config.Fault{Path: "capture_age", Message: fmt.Sprintf("is %s, must not be below zero", time.Duration(c.CaptureAge))})
	}
	return faults
}

// UsualWeights are the bands outside of which the dock has to say why a weight is right.
type UsualWeights domain.Bands

// Check refuses bands that are no ranges.
func (u UsualWeights) Check() []config.Fault {
	if u == (UsualWeights{}) {
		return nil
	}
	if err := domain.Bands(u).Validate(); err != nil {
		return []config.Fault{{Message: err.Error()}}
	}
	return nil
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
	if cfg.Name == "" {
		cfg.Name = schema
	}
	log, err := logging.New(cfg.Name, cfg.LogLevel)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	dock, err := newApp(cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	readers, err := indicator.NewSet(cfg.Indicators, dock.Unit, dock.Clock, log)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	db, err := open(ctx, cfg, log)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	defer db.Close()
	return serve(ctx, cfg, lis, log, dock, db, readers)
}

// Migrate brings the schema to the newest version. The connection string must be that of the schema's owner.
func Migrate(ctx context.Context, cfg Config) error {
	url, err := cfg.Database.Connection()
	if err != nil {
		return err
	}
	return migrations.Up(ctx, schema, url)
}

func newApp(cfg Config) (*app.App, error) {
	unit, err := quantity.ParseUnit(cfg.Cooperative.Unit)
	if err != nil {
		return nil, fmt.Errorf("settings of the cooperative: %w", err)
	}
	zone, err := cfg.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	if cfg.TareVariance < 0 {
		return nil, fmt.Errorf("tare_variance is %s: it must not be below zero", cfg.TareVariance)
	}
	if cfg.ReweighDays < 0 {
		return nil, fmt.Errorf("reweigh_days is %d: it must not be below zero", cfg.ReweighDays)
	}
	indicated := map[string]bool{}
	for id := range cfg.Indicators {
		indicated[id] = true
	}
	return &app.App{
		Store: store.Store{}, Clock: cfg.Time(), Site: cfg.Cooperative.Site, Unit: unit, Zone: zone,
		Expect: domain.Expect(unit, domain.Bands(cfg.UsualWeights), cfg.TareVariance), Codes: domain.SecureCodes,
		ReweighDays: cmp.Or(cfg.ReweighDays, domain.DefaultReweighDays),
		Indicated:   indicated, CaptureAge: cmp.Or(time.Duration(cfg.CaptureAge), domain.DefaultCaptureAge),
		Retention: domain.Retention(cfg.RetentionDays),
	}, nil
}

func open(ctx context.Context, cfg Config, log *zap.Logger) (*pg.DB, error) {
	url, err := cfg.Database.Connection()
	if err != nil {
		return nil, err
	}
	return pg.Open(ctx, pg.Config{URL: url, Schema: schema}, log)
}

func serve(ctx context.Context, cfg Config, lis net.Listener, log *zap.Logger, dock *app.App, db *pg.DB, readers indicator.Set) error {
	metrics := telemetry.New(schema)
	if err := metrics.Register(feed.Metrics(db)); err != nil {
		return fmt.Errorf("register metrics: %w", err)
	}
	facts := feed.NewServer(db, feed.WithDraining(rpcserve.Draining))
	// What runs beside the server ends with it, also when the server ends by itself.
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	group, beside := errgroup.WithContext(ctx)
	group.Go(func() error {
		defer stop()
		return rpcserve.Serve(beside, options(cfg, log, db, metrics), lis, func(r grpc.ServiceRegistrar) {
			intakev1.RegisterIntakeServiceServer(r, rpc.New(dock, db))
			intakev1.RegisterIndicatorServiceServer(r, rpc.NewIndicator(dock, db, readers, rpcserve.Draining))
			feedv1.RegisterFeedServiceServer(r, facts)
			feedv1.RegisterFeedAdminServiceServer(r, feedadmin.New(db, dock.Clock))
		})
	})
	group.Go(func() error {
		readers.Run(beside)
		return nil
	})
	group.Go(func() error {
		// Being told to stop is no failure.
		if err := facts.Run(beside); beside.Err() == nil {
			return err
		}
		return nil
	})
	return group.Wait()
}

// options say who may call: people through the gateway, and the services to the right of this one for its feed.
func options(cfg Config, log *zap.Logger, db *pg.DB, metrics *telemetry.Registry) rpcserve.Options {
	return rpcserve.Options{
		Config: cfg.Service, Log: log, Metrics: metrics,
		Health: func(ctx context.Context) error { return db.Ready(ctx, migrations.Latest(schema)) },
		Allow: map[string][]string{
			intakev1.IntakeService_ServiceDesc.ServiceName:    {rpcserve.Gateway},
			intakev1.IndicatorService_ServiceDesc.ServiceName: {rpcserve.Gateway},
			feedv1.FeedService_ServiceDesc.ServiceName:        {"grading", "inventory", "settlement"},
			// The dock follows nobody, but its own log can be verified.
			feedv1.FeedAdminService_ServiceDesc.ServiceName: {rpcserve.Gateway},
		},
	}
}
