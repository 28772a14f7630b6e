// Package logging makes the JSON log of a process and carries the logger of one call in its context.
package logging

import (
	"context"
	"fmt"

	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
)

// New returns the logger of the named service, JSON on standard error. level is debug, info, warn or error; empty means
// info.
func New(service, level string) (*zap.Logger, error) {
	parsed := zapcore.InfoLevel
	if level != "" {
		var err error
		if parsed, err = zapcore.ParseLevel(level); err != nil {
			return nil, fmt.Errorf("log level: %w", err)
		}
	}
	settings := zap.NewProductionConfig()
	settings.Level = zap.NewAtomicLevelAt(parsed)
	settings.EncoderConfig.TimeKey = "time"
	settings.EncoderConfig.EncodeTime = zapcore.RFC3339NanoTimeEncoder
	// Sampling would drop access lines exactly when they are needed.
	settings.Sampling = nil
	log, err := settings.Build()
	if err != nil {
		return nil, fmt.Errorf("build logger: %w", err)
	}
	return log.With(zap.String("service", service)), nil
}

type loggerKey struct{}

// With returns a context that carries log.
func With(ctx context.Context, log *zap.Logger) context.Context {
	return context.WithValue(ctx, loggerKey{}, log)
}

// From returns the logger of the call, which knows its request id, method, peer and actor; one that says nothing when
// there is no call.
func From(ctx context.Context) *zap.Logger {
	if log, ok := ctx.Value(loggerKey{}).(*zap.Logger); ok {
		return log
	}
	return zap.NewNop()
}
