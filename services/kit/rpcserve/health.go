package rpcserve

import (
	"context"
	"errors"
	"sync"
	"time"

	"go.uber.org/zap"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
)

var (
	errStarting = errors.New("starting")
	errDraining = errors.New("draining")
)

// readiness is the last answer of the health check, for the debug port.
type readiness struct {
	mu    sync.Mutex
	known bool
	err   error
}

func (r *readiness) set(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if errors.Is(r.err, errDraining) {
		return
	}
	r.known, r.err = true, err
}

func (r *readiness) get() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.known {
		return errStarting
	}
	return r.err
}

// watchHealth asks the service how it is, at once and then regularly, and tells clients. Changes are logged, not every
// answer.
func (s *server) watchHealth(ctx context.Context) error {
	ticker := time.NewTicker(s.opts.HealthEvery)
	defer ticker.Stop()
	for {
		s.checkHealth(ctx)
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
		}
	}
}

func (s *server) checkHealth(ctx context.Context) {
	before := s.serving.get()
	err := s.ask(ctx)
	if ctx.Err() != nil || errors.Is(s.serving.get(), errDraining) {
		return
	}
	s.serving.set(err)
	s.setServing(err == nil)
	switch {
	case err == nil && before != nil:
		s.log.Info("healthy", zap.NamedError("before", before))
	case err != nil && (before == nil || errors.Is(before, errStarting)):
		s.log.Error("not healthy", zap.Error(err))
	}
}

// ask gives the check as long as the time to the next one, at least a second, so that a hanging database counts as away.
func (s *server) ask(ctx context.Context) error {
	if s.opts.Health == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, max(s.opts.HealthEvery, time.Second))
	defer cancel()
	return s.opts.Health(ctx)
}

func (s *server) setServing(ok bool) {
	state := healthv1.HealthCheckResponse_NOT_SERVING
	if ok {
		state = healthv1.HealthCheckResponse_SERVING
	}
	s.health.SetServingStatus("", state)
	for _, service := range s.services {
		s.health.SetServingStatus(service, state)
	}
}
