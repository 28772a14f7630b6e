package telemetry

import (
	"context"
	"fmt"
	"strings"

	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc"
	"go.opentelemetry.io/contrib/instrumentation/google.golang.org/grpc/otelgrpc/filters"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracegrpc"
	"go.opentelemetry.io/otel/propagation"
	"go.opentelemetry.io/otel/sdk/resource"
	sdktrace "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/trace"
	"go.opentelemetry.io/otel/trace/noop"
	"google.golang.org/grpc"
)

// Traces are where the spans of one service go.
type Traces struct {
	provider trace.TracerProvider
	close    func(context.Context) error
	off      bool
}

// NoTraces goes nowhere and costs nothing.
func NoTraces() *Traces {
	return &Traces{provider: noop.NewTracerProvider(), close: func(context.Context) error { return nil }, off: true}
}

// OpenTraces sends the spans of service to a collector speaking OTLP over gRPC. endpoint is "http://host:port" for
// plain text, "https://host:port" or "host:port" for TLS; empty gives NoTraces. It does not wait for the collector, and
// spans are dropped rather than kept when it is away.
func OpenTraces(ctx context.Context, service, endpoint string) (*Traces, error) {
	if endpoint == "" {
		return NoTraces(), nil
	}
	where := otlptracegrpc.WithEndpoint(endpoint)
	if strings.Contains(endpoint, "://") {
		where = otlptracegrpc.WithEndpointURL(endpoint)
	}
	exporter, err := otlptracegrpc.New(ctx, where)
	if err != nil {
		return nil, fmt.Errorf("open traces to %s: %w", endpoint, err)
	}
	provider := sdktrace.NewTracerProvider(
		sdktrace.WithBatcher(exporter),
		sdktrace.WithResource(resource.NewSchemaless(attribute.String("service.name", "barrelhead-"+service))),
	)
	return &Traces{provider: provider, close: provider.Shutdown}, nil
}

// Tracer makes spans inside the service.
func (t *Traces) Tracer(name string) trace.Tracer { return t.provider.Tracer(name) }

// Close sends what is left.
func (t *Traces) Close(ctx context.Context) error {
	if err := t.close(ctx); err != nil {
		return fmt.Errorf("send the last traces: %w", err)
	}
	return nil
}

// Server is the option of a gRPC server whose calls become spans. Health checks do not: they would drown the rest.
func (t *Traces) Server() grpc.ServerOption {
	if t.off {
		return grpc.EmptyServerOption{}
	}
	return grpc.StatsHandler(otelgrpc.NewServerHandler(t.options()...))
}

// Client is the option of a gRPC client whose calls become spans of the caller's trace.
func (t *Traces) Client() grpc.DialOption {
	if t.off {
		return grpc.EmptyDialOption{}
	}
	return grpc.WithStatsHandler(otelgrpc.NewClientHandler(t.options()...))
}

func (t *Traces) options() []otelgrpc.Option {
	return []otelgrpc.Option{
		otelgrpc.WithTracerProvider(t.provider),
		otelgrpc.WithPropagators(propagation.TraceContext{}),
		otelgrpc.WithFilter(filters.Not(filters.HealthCheck())),
	}
}
