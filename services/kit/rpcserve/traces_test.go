package rpcserve_test

import (
	"context"
	"net"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	collectorv1 "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	"google.golang.org/grpc"

	"barrelhead.example/services/kit/rpcserve"
	"barrelhead.example/services/kit/rpctest"
)

// collector stands for a trace collector and keeps the names of the spans it was sent.
type collector struct {
	collectorv1.UnimplementedTraceServiceServer
	mu    sync.Mutex
	names []string
}

func (c *collector) Export(_ context.Context, req *collectorv1.ExportTraceServiceRequest) (*collectorv1.ExportTraceServiceResponse, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, r := range req.GetResourceSpans() {
		for _, s := range r.GetScopeSpans() {
			for _, span := range s.GetSpans() {
				c.names = append(c.names, span.GetName())
			}
		}
	}
	return &collectorv1.ExportTraceServiceResponse{}, nil
}

func (c *collector) start(t *testing.T) string {
	t.Helper()
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	server := grpc.NewServer()
	collectorv1.RegisterTraceServiceServer(server, c)
	go func() { _ = server.Serve(lis) }()
	t.Cleanup(server.Stop)
	return "http://" + lis.Addr().String()
}

func TestTraces_CallsBecomeSpansHealthDoesNot(t *testing.T) {
	t.Parallel()
	c := &collector{}
	log, lines := observed()
	s := rpctest.New(t, whoami.register, func(o *rpcserve.Options) {
		o.Log = log
		o.Config.OTLPEndpoint = c.start(t)
	})
	_, err := call(within(t), s.As(rpctest.Person("dock1", dock)), weighMethod, weighing())
	require.NoError(t, err)
	require.NoError(t, s.Stop())

	c.mu.Lock()
	defer c.mu.Unlock()
	require.Equal(t, []string{kitService + "/Weigh"}, c.names)
	written := lines.FilterField(methodField(weighMethod)).All()
	require.Len(t, written[0].ContextMap()["trace_id"], 32)
}
