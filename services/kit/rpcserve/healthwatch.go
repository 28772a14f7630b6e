package rpcserve

import (
	"context"
	"errors"
	"sync"

	"google.golang.org/grpc"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"

	"barrelhead.example/services/kit/apierr"
)

// healthStream ends a watch of our health once it was told NOT_SERVING and we drain. The library's handler would hold
// an orderly stop open until its cap.
func (c *chain) healthStream(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	if info.FullMethod != healthv1.Health_Watch_FullMethodName {
		return next(srv, stream)
	}
	ctx, cancel := context.WithCancel(stream.Context())
	defer cancel()
	watch := &healthWatch{ServerStream: stream, ctx: ctx, cancel: cancel, draining: c.draining}
	go watch.untilDraining()
	err := next(srv, watch)
	if stream.Context().Err() == nil && ctx.Err() != nil {
		return apierr.Unavailable(errors.Join(errDraining, err))
	}
	return err
}

type healthWatch struct {
	grpc.ServerStream
	ctx      context.Context
	cancel   context.CancelFunc
	draining <-chan struct{}

	mu   sync.Mutex
	told bool
}

func (w *healthWatch) Context() context.Context { return w.ctx }

func (w *healthWatch) SendMsg(m any) error {
	err := w.ServerStream.SendMsg(m)
	state, ok := m.(*healthv1.HealthCheckResponse)
	w.mu.Lock()
	w.told = ok && state.GetStatus() == healthv1.HealthCheckResponse_NOT_SERVING
	w.mu.Unlock()
	w.endIfTold()
	return err // the library's handler looks at it
}

func (w *healthWatch) untilDraining() {
	select {
	case <-w.draining:
		w.endIfTold()
	case <-w.ctx.Done():
	}
}

func (w *healthWatch) endIfTold() {
	select {
	case <-w.draining:
	default:
		return
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.told {
		w.cancel()
	}
}
