// Package telemetry keeps the metrics of one service and sends its traces. Nothing in it is global: several services
// can live in one process without mixing their numbers.
package telemetry

import (
	"net/http"
	"strings"

	grpcprom "github.com/grpc-ecosystem/go-grpc-middleware/providers/prometheus"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
)

const namespace = "barrelhead"

// Registry holds the metrics of one service. Every name begins "barrelhead_<service>_" and should end in its unit:
// "seconds", "bytes", "total".
type Registry struct {
	service  string
	registry *prometheus.Registry
}

// New returns the registry of the named service, with the numbers of the Go runtime and the process in it.
func New(service string) *Registry {
	r := &Registry{service: strings.ReplaceAll(service, "-", "_"), registry: prometheus.NewRegistry()}
	r.registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return r
}

// Counter makes a counter. Registering one name twice is a mistake of ours and panics at start.
func (r *Registry) Counter(name, help string, labels ...string) *prometheus.CounterVec {
	c := prometheus.NewCounterVec(prometheus.CounterOpts(r.options(name, help)), labels)
	r.registry.MustRegister(c)
	return c
}

// Gauge makes a gauge.
func (r *Registry) Gauge(name, help string, labels ...string) *prometheus.GaugeVec {
	g := prometheus.NewGaugeVec(prometheus.GaugeOpts(r.options(name, help)), labels)
	r.registry.MustRegister(g)
	return g
}

// GaugeFunc makes a gauge that is read when asked for.
func (r *Registry) GaugeFunc(name, help string, read func() float64) {
	r.registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts(r.options(name, help)), read))
}

// Histogram makes a histogram; no buckets means those for the duration of a call in seconds.
func (r *Registry) Histogram(name, help string, buckets []float64, labels ...string) *prometheus.HistogramVec {
	if buckets == nil {
		buckets = callBuckets
	}
	h := prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Namespace: namespace, Subsystem: r.service, Name: name, Help: help, Buckets: buckets,
	}, labels)
	r.registry.MustRegister(h)
	return h
}

// Register adds a ready-made collector, e.g. of a connection pool.
func (r *Registry) Register(c prometheus.Collector) error { return r.registry.Register(c) }

// Gather reads every metric, for tests.
func (r *Registry) Gather() prometheus.Gatherer { return r.registry }

// Handler serves the metrics.
func (r *Registry) Handler() http.Handler {
	return promhttp.HandlerFor(r.registry, promhttp.HandlerOpts{Registry: r.registry})
}

// callBuckets reach from a read out of memory to a call that used up the default deadline.
var callBuckets = []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 5, 10, 30}

// Server makes the metrics of a gRPC server: barrelhead_<service>_grpc_server_handled_total and so on.
func (r *Registry) Server() *grpcprom.ServerMetrics {
	m := grpcprom.NewServerMetrics(
		grpcprom.WithServerCounterOptions(grpcprom.WithNamespace(namespace), grpcprom.WithSubsystem(r.service)),
		grpcprom.WithServerHandlingTimeHistogram(
			grpcprom.WithHistogramNamespace(namespace), grpcprom.WithHistogramSubsystem(r.service),
			grpcprom.WithHistogramBuckets(callBuckets),
		),
	)
	r.registry.MustRegister(m)
	return m
}

func (r *Registry) options(name, help string) prometheus.Opts {
	return prometheus.Opts{Namespace: namespace, Subsystem: r.service, Name: name, Help: help}
}
