package rpcserve

import (
	"context"
	"errors"
	"strings"
	"time"

	"go.opentelemetry.io/otel/trace"
	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
	"google.golang.org/grpc/codes"

	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/logging"
)

// logCall writes the one line of a call. The cause of a fault of ours is in it and nowhere else.
func (c *chain) logCall(ctx context.Context, seen *call, err error, took time.Duration) {
	refused := apierr.Parse(err)
	level := levelOf(refused.Code)
	switch {
	case err == nil && strings.HasPrefix(seen.method, "/grpc."):
		// Health is asked every few seconds by everyone.
		level = zapcore.DebugLevel
	case refused.Code == codes.Unavailable && closed(c.draining):
		// Streams that a stopping service ends are how it stops, not a fault.
		level = zapcore.DebugLevel
	}
	line := logging.From(ctx).Check(level, "call")
	if line == nil {
		return
	}
	fields := []zap.Field{
		zap.String("peer", seen.actor.Peer), zap.String("actor", seen.actor.Login),
		zap.Stringer("code", refused.Code), zap.Duration("duration", took),
	}
	if span := trace.SpanContextFromContext(ctx); span.HasTraceID() {
		fields = append(fields, zap.Stringer("trace_id", span.TraceID()))
	}
	if err != nil {
		fields = append(fields, zap.String("reason", refused.Reason), zap.String("message", refused.Message))
	}
	if cause := errors.Unwrap(err); cause != nil {
		fields = append(fields, zap.Error(cause))
	}
	line.Write(fields...)
}

// levelOf keeps the error level for what somebody has to look at.
func levelOf(code codes.Code) zapcore.Level {
	switch code {
	case codes.Internal, codes.Unknown, codes.DataLoss, codes.Unimplemented:
		return zapcore.ErrorLevel
	case codes.Unavailable, codes.DeadlineExceeded, codes.PermissionDenied, codes.Unauthenticated, codes.ResourceExhausted:
		return zapcore.WarnLevel
	default:
		return zapcore.InfoLevel
	}
}

func closed(c <-chan struct{}) bool {
	select {
	case <-c:
		return true
	default:
		return false
	}
}
