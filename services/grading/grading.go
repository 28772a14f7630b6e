// Package grading is the laboratory: it measures blind samples and certifies their grade. This file is its only wiring.
package grading

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"

	"google.golang.org/grpc"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/grading/internal/project"
	"barrelhead.example/services/grading/internal/rpc"
	"barrelhead.example/services/grading/internal/store"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/service"
)

const schema = "grading"

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
	lis, err := service.Listen(ctx, cfg.Service)
	if err != nil {
		return err
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) error {
	lab, err := newApp(cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	return service.Serve(ctx, schema, cfg.Service, lis, func(ctx context.Context, s *service.Service) (service.Parts, error) {
		lab.DB = s.DB
		samples, err := s.Follow(ctx, "intake", &feed.Consumer{
			Name: "samples", Apply: project.Intake(store.Store{}, lab), ReadTables: project.ReadTables,
		})
		return service.Parts{
			Own:       []string{gradingv1.GradingService_ServiceDesc.ServiceName},
			Register:  func(r grpc.ServiceRegistrar) { gradingv1.RegisterGradingServiceServer(r, &rpc.Server{App: lab}) },
			Readers:   []string{"inventory", "settlement"},
			Consumers: []*feed.Consumer{samples},
		}, err
	})
}

func newApp(cfg Config) (*app.App, error) {
	zone, err := cfg.Cooperative.Location()
	if err != nil {
		return nil, err
	}
	signer, err := openSigner(cfg.SigningKeyFile)
	if err != nil {
		return nil, err
	}
	library, err := openLibrary(cfg.StandardsDir)
	if err != nil {
		return nil, err
	}
	return &app.App{
		Clock: cfg.Time(), Zone: zone, Library: library,
		Bench: store.Store{}, Readings: store.Store{}, Releases: store.Store{}, Controls: store.Store{}, Appeals: store.Store{},
		Outside: store.Store{}, Custody: store.Store{}, Oversight: store.Store{},
		RereadsEnforced: cfg.EnforceRereads, Signer: signer,
	}, nil
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
