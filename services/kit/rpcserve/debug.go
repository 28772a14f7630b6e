package rpcserve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/pprof"
	"time"
)

// debugServer answers operators and their machines on a port of its own, in plain HTTP. It has no login, so it listens
// on the loopback interface or a private network only.
type debugServer struct {
	http *http.Server
	lis  net.Listener
}

func (s *server) openDebug(ctx context.Context) (*debugServer, error) {
	lis := s.opts.Debug
	if lis == nil && s.opts.Config.DebugListen != "" {
		var err error
		if lis, err = (&net.ListenConfig{}).Listen(ctx, "tcp", s.opts.Config.DebugListen); err != nil {
			return nil, fmt.Errorf("listen for operators: %w", err)
		}
	}
	return &debugServer{lis: lis, http: &http.Server{Handler: s.debugHandler(), ReadHeaderTimeout: 5 * time.Second}}, nil
}

func (s *server) debugHandler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.opts.Metrics.Handler())
	// Alive as long as it answers: restarting a process because its database is away helps nobody.
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { _, _ = fmt.Fprintln(w, "alive") })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, _ *http.Request) {
		if err := s.serving.get(); err != nil {
			http.Error(w, "not ready: "+err.Error(), http.StatusServiceUnavailable)
			return
		}
		_, _ = fmt.Fprintln(w, "ready")
	})
	mux.HandleFunc("GET /debug/pprof/", pprof.Index)
	mux.HandleFunc("GET /debug/pprof/cmdline", pprof.Cmdline)
	mux.HandleFunc("GET /debug/pprof/profile", pprof.Profile)
	mux.HandleFunc("GET /debug/pprof/symbol", pprof.Symbol)
	mux.HandleFunc("GET /debug/pprof/trace", pprof.Trace)
	return mux
}

func (d *debugServer) serve() error {
	if d.lis == nil {
		return nil
	}
	if err := d.http.Serve(d.lis); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve operators: %w", err)
	}
	return nil
}

func (d *debugServer) close(ctx context.Context) error {
	if err := d.http.Shutdown(ctx); err != nil {
		return errors.Join(fmt.Errorf("stop serving operators: %w", err), d.http.Close())
	}
	return nil
}
