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

	"google.golang.org/grpc"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/app"
	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/intake/internal/rpc"
	"barrelhead.example/services/intake/internal/store"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/service"
)

const schema = "intake"

// Config is the settings file of the service.
type Config struct {
	config.Service
	House
}

// Run serves on the configured address until ctx ends.
func Run(ctx context.Context, cfg Config) error {
	lis, err := service.Listen(ctx, cfg.Service)
	if err != nil {
		return err
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) error {
	dock, err := newApp(cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	return service.Serve(ctx, schema, cfg.Service, lis, func(_ context.Context, s *service.Service) (service.Parts, error) {
		readers, err := indicator.NewSet(cfg.Indicators, dock.Unit, dock.Clock, s.Log)
		return service.Parts{
			Own: []string{
				intakev1.IntakeService_ServiceDesc.ServiceName, intakev1.IndicatorService_ServiceDesc.ServiceName,
				intakev1.DockTermsService_ServiceDesc.ServiceName,
			},
			Register: func(r grpc.ServiceRegistrar) {
				server := rpc.New(dock, s.DB)
				intakev1.RegisterIntakeServiceServer(r, server)
				intakev1.RegisterDockTermsServiceServer(r, rpc.NewTerms(server))
				intakev1.RegisterIndicatorServiceServer(r, rpc.NewIndicator(dock, s.DB, readers, rpcserve.Draining))
			},
			Readers: []string{"grading", "inventory", "settlement"},
			Beside: []func(context.Context) error{func(ctx context.Context) error {
				readers.Run(ctx)
				return nil
			}},
		}, err
	})
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
		Store: store.Store{}, Clock: cfg.Time(), Site: cfg.Cooperative.Site, Unit: unit, Currency: cfg.Cooperative.Currency, Zone: zone,
		Expect: domain.Expect(unit, domain.Bands(cfg.UsualWeights), cfg.TareVariance), Codes: domain.SecureCodes,
		ReweighDays: cmp.Or(cfg.ReweighDays, domain.DefaultReweighDays),
		Indicated:   indicated, CaptureAge: cmp.Or(time.Duration(cfg.CaptureAge), domain.DefaultCaptureAge),
		Retention: domain.Retention(cfg.RetentionDays),
	}, nil
}
