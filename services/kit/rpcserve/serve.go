package rpcserve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"

	"barrelhead.example/services/kit/mtls"
	"barrelhead.example/services/kit/telemetry"
)

// Serve serves on an open listener, so that port 0 can be used, until ctx ends, then drains and returns nil. It closes the
// listener.
func Serve(ctx context.Context, opts Options, lis net.Listener, register func(grpc.ServiceRegistrar)) error {
	s, err := build(ctx, opts.withDefaults(), register)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	return s.run(ctx, lis)
}

type server struct {
	opts     Options
	log      *zap.Logger
	grpc     *grpc.Server
	health   *health.Server
	traces   *telemetry.Traces
	draining chan struct{}
	services []string
	serving  readiness
}

func build(ctx context.Context, opts Options, register func(grpc.ServiceRegistrar)) (*server, error) {
	certificates, err := mtls.Open(opts.Config.TLS)
	if err != nil {
		return nil, fmt.Errorf("open certificates: %w", err)
	}
	s := &server{opts: opts, log: opts.Log, health: health.NewServer(), traces: opts.Traces, draining: make(chan struct{})}
	if s.traces == nil {
		if s.traces, err = telemetry.OpenTraces(ctx, opts.Config.Name, opts.Config.OTLPEndpoint); err != nil {
			return nil, err
		}
	}
	guard := &guard{}
	chain := newChain(s, guard)
	s.grpc = grpc.NewServer(serverOptions(certificates, s.traces, chain)...)
	healthv1.RegisterHealthServer(s.grpc, s.health)
	register(s.grpc)
	if opts.Config.Reflection {
		reflection.Register(s.grpc)
	}
	if guard.rules, err = rulesFor(s.grpc.GetServiceInfo(), opts.Allow); err != nil {
		return nil, fmt.Errorf("refuse to start %s: %w", opts.Config.Name, err)
	}
	if err := chain.shape.compile(guard.rules.methods); err != nil {
		return nil, fmt.Errorf("refuse to start %s: %w", opts.Config.Name, err)
	}
	for service := range s.grpc.GetServiceInfo() {
		s.services = append(s.services, service)
	}
	chain.metrics.InitializeMetrics(s.grpc)
	opts.Metrics.GaugeFunc("certificate_expiry_timestamp_seconds", "End of the certificate in force, Unix time.",
		func() float64 { return float64(certificates.Expires().Unix()) })
	s.setServing(false)
	return s, nil
}

func (s *server) run(ctx context.Context, lis net.Listener) error {
	debug, err := s.openDebug(ctx)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	// The work outlives ctx by the time it takes to drain.
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	var group errgroup.Group
	served := make(chan struct{})
	group.Go(func() error {
		defer close(served)
		// Stopped before it began is an orderly end as well.
		if err := s.grpc.Serve(lis); err != nil && !errors.Is(err, grpc.ErrServerStopped) {
			return fmt.Errorf("serve calls: %w", err)
		}
		return nil
	})
	group.Go(func() error { return s.watchHealth(work) })
	group.Go(func() error { return debug.serve() })
	s.log.Info("serving", zap.Stringer("address", lis.Addr()))

	select {
	case <-ctx.Done():
		s.drain()
	case <-served:
	}
	stop()
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	err = errors.Join(debug.close(closing), group.Wait())
	if s.opts.Traces == nil {
		// Lost traces are no reason to call an orderly end a failure.
		if lost := s.traces.Close(closing); lost != nil {
			s.log.Warn("traces were lost", zap.Error(lost))
		}
	}
	s.log.Info("stopped", zap.Error(err))
	return err
}

// drain ends the service without losing an answer: say so, tell the streams, let calls in flight finish, then cut.
func (s *server) drain() {
	s.log.Info("draining")
	s.serving.set(errDraining)
	s.health.Shutdown()
	if s.opts.Linger > 0 {
		linger := time.NewTimer(s.opts.Linger)
		<-linger.C
	}
	close(s.draining)
	finished := make(chan struct{})
	go func() {
		s.grpc.GracefulStop()
		close(finished)
	}()
	cut := time.NewTimer(s.opts.StopWithin)
	defer cut.Stop()
	select {
	case <-finished:
	case <-cut.C:
		s.log.Warn("cutting calls still in flight", zap.Duration("after", s.opts.StopWithin))
		// Stop ends every connection and with it the context of every call, but GracefulStop would still wait for a
		// handler that does not listen. That one is left behind: a stop that may hang is worse than a call cut twice.
		s.grpc.Stop()
	}
}
