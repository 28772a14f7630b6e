package rpcserve

import (
	"context"
	"fmt"
	"runtime/debug"
	"time"

	"buf.build/go/protovalidate"
	grpcprom "github.com/grpc-ecosystem/go-grpc-middleware/providers/prometheus"
	"go.uber.org/zap"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/logging"
)

// chain is the interceptors in their one order. Recovery is inside metrics and log, so that both see INTERNAL;
// translation is inside recovery and outside everything that refuses, so that nothing leaves untranslated.
type chain struct {
	metrics  *grpcprom.ServerMetrics
	log      *zap.Logger
	draining <-chan struct{}
	guard    *guard
	deadline time.Duration
	shape    shape
}

func newChain(s *server, g *guard) *chain {
	return &chain{
		metrics: s.opts.Metrics.Server(), log: s.log, draining: s.draining, guard: g, deadline: s.opts.Deadline,
		// One for the whole process: where the suite runs as one, each rule is compiled once and not by every service.
		shape: shape{protovalidate.GlobalValidator},
	}
}

func (c *chain) unary() []grpc.UnaryServerInterceptor {
	return []grpc.UnaryServerInterceptor{
		c.metrics.UnaryServerInterceptor(), c.observeUnary, recoverUnary, translateUnary, c.guardUnary, c.deadlineUnary, c.shapeUnary,
	}
}

func (c *chain) stream() []grpc.StreamServerInterceptor {
	return []grpc.StreamServerInterceptor{
		c.metrics.StreamServerInterceptor(), c.observeStream, recoverStream, translateStream, c.guardStream, c.healthStream, c.shapeStream,
	}
}

func (c *chain) observeUnary(ctx context.Context, req any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	began := time.Now()
	ctx, seen := c.begin(ctx, info.FullMethod, req)
	// A call that is over before the header could be sent has nobody to tell.
	_ = grpc.SetHeader(ctx, metadata.Pairs(RequestIDKey, seen.requestID))
	answer, err := next(ctx, req)
	c.logCall(ctx, seen, err, time.Since(began))
	return answer, err
}

func (c *chain) observeStream(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	began := time.Now()
	ctx, seen := c.begin(stream.Context(), info.FullMethod, nil)
	_ = stream.SetHeader(metadata.Pairs(RequestIDKey, seen.requestID))
	err := next(srv, withContext{stream, ctx})
	c.logCall(ctx, seen, err, time.Since(began))
	return err
}

func (c *chain) begin(ctx context.Context, method string, req any) (context.Context, *call) {
	seen := &call{method: method, requestID: requestIDOf(ctx, req), draining: c.draining}
	ctx = context.WithValue(ctx, callKey{}, seen)
	return logging.With(ctx, c.log.With(zap.String("request_id", seen.requestID), zap.String("method", method))), seen
}

func recoverUnary(ctx context.Context, req any, _ *grpc.UnaryServerInfo, next grpc.UnaryHandler) (answer any, err error) {
	defer func() { err = recovered(ctx, recover(), err) }()
	return next(ctx, req)
}

func recoverStream(srv any, stream grpc.ServerStream, _ *grpc.StreamServerInfo, next grpc.StreamHandler) (err error) {
	defer func() { err = recovered(stream.Context(), recover(), err) }()
	return next(srv, stream)
}

func recovered(ctx context.Context, what any, err error) error {
	if what == nil {
		return err
	}
	logging.From(ctx).Error("panic", zap.Any("panic", what), zap.ByteString("stack", debug.Stack()))
	return apierr.Internal(fmt.Errorf("panic: %v", what))
}

func translateUnary(ctx context.Context, req any, _ *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	answer, err := next(ctx, req)
	return answer, apierr.From(err)
}

func translateStream(srv any, stream grpc.ServerStream, _ *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	return apierr.From(next(srv, stream))
}

// Times a deadline is measured against.
const (
	// leastTime is the least that is worth beginning with: less would be spent before the answer arrives.
	leastTime = 100 * time.Millisecond
	// headroom ends the work a little before the caller gives up, so that it learns what took too long.
	headroom = 20 * time.Millisecond
)

// deadlineUnary bounds every unary call. Streams have no deadline: following a feed is their purpose.
func (c *chain) deadlineUnary(ctx context.Context, req any, _ *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	end, given := ctx.Deadline()
	if !given {
		end = time.Now().Add(c.deadline)
	} else if left := time.Until(end); left < leastTime {
		return nil, apierr.Late(fmt.Errorf("only %s left on arrival", left))
	}
	ctx, cancel := context.WithDeadline(ctx, end.Add(-headroom))
	defer cancel()
	return next(ctx, req)
}
