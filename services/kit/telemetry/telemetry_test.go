package telemetry_test

import (
	"context"
	"net"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	collectorv1 "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	"google.golang.org/grpc"

	"barrelhead.example/services/kit/telemetry"
)

func scrape(t *testing.T, r *telemetry.Registry) string {
	t.Helper()
	answer := httptest.NewRecorder()
	r.Handler().ServeHTTP(answer, httptest.NewRequestWithContext(context.Background(), "GET", "/metrics", nil))
	require.Equal(t, 200, answer.Code)
	return answer.Body.String()
}

func TestRegistry_NamesBelongToTheService(t *testing.T) {
	t.Parallel()
	r := telemetry.New("intake")
	r.Counter("ticket_closed_total", "Tickets closed.", "site").WithLabelValues("FC").Inc()
	r.Gauge("feed_lag_events", "Events not yet applied.").WithLabelValues().Set(3)
	r.GaugeFunc("certificate_expiry_seconds", "When.", func() float64 { return 7 })
	r.Histogram("run_seconds", "Duration.", nil).WithLabelValues().Observe(0.2)
	text := scrape(t, r)
	require.Contains(t, text, `barrelhead_intake_ticket_closed_total{site="FC"} 1`)
	require.Contains(t, text, "barrelhead_intake_feed_lag_events 3")
	require.Contains(t, text, "barrelhead_intake_certificate_expiry_seconds 7")
	require.Contains(t, text, `barrelhead_intake_run_seconds_bucket{le="0.25"} 1`)
	require.Contains(t, text, "go_goroutines")

	require.NotContains(t, scrape(t, telemetry.New("grading")), "barrelhead_intake")
}

// collector stands for a trace collector.
type collector struct {
	collectorv1.UnimplementedTraceServiceServer
	spans chan string
}

func (c collector) Export(_ context.Context, req *collectorv1.ExportTraceServiceRequest) (*collectorv1.ExportTraceServiceResponse, error) {
	for _, r := range req.GetResourceSpans() {
		service := r.GetResource().GetAttributes()[0].GetValue().GetStringValue()
		for _, s := range r.GetScopeSpans() {
			for _, span := range s.GetSpans() {
				c.spans <- service + " " + span.GetName()
			}
		}
	}
	return &collectorv1.ExportTraceServiceResponse{}, nil
}

func TestOpenTraces_SpansArrive(t *testing.T) {
	t.Parallel()
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	arrived := collector{spans: make(chan string, 1)}
	server := grpc.NewServer()
	collectorv1.RegisterTraceServiceServer(server, arrived)
	go func() { _ = server.Serve(lis) }()
	t.Cleanup(server.Stop)

	traces, err := telemetry.OpenTraces(context.Background(), "intake", "http://"+lis.Addr().String())
	require.NoError(t, err)
	_, span := traces.Tracer("test").Start(context.Background(), "weigh")
	span.End()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	require.NoError(t, traces.Close(ctx))
	require.Equal(t, "barrelhead-intake weigh", <-arrived.spans)
}

func TestOpenTraces_WithoutEndpointNothingIsRecorded(t *testing.T) {
	t.Parallel()
	traces, err := telemetry.OpenTraces(context.Background(), "intake", "")
	require.NoError(t, err)
	_, span := traces.Tracer("test").Start(context.Background(), "weigh")
	require.False(t, span.IsRecording())
	require.NoError(t, traces.Close(context.Background()))
}
