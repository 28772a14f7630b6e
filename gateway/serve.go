package gateway

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"sync"
	"time"

	"go.uber.org/zap"
	"golang.org/x/sync/errgroup"

	"barrelhead.example/migrations"
)

const (
	stopWithin  = 15 * time.Second
	healthEvery = 2 * time.Second
	sweepEvery  = time.Hour
	// mostHead of a request is read, in bytes: room for the address of a form with a dozen long fields, so that whoever pasted a
	// book into a filter is told so by the page and not by a bare status.
	mostHead = 256 << 10
)

// run serves until ctx ends. Then it says that it is not ready, lets requests in flight finish, and cuts what takes too
// long.
func (g *gateway) run(ctx context.Context, lis net.Listener) error {
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	streams, endStreams := context.WithCancel(work)
	defer endStreams()
	handler, err := g.handler(streams)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	server := &http.Server{
		Handler:           handler,
		ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: 60 * time.Second, IdleTimeout: 2 * time.Minute,
		MaxHeaderBytes: mostHead,
		ErrorLog:       zap.NewStdLog(g.log.Named("http")),
	}
	// Whoever follows a stream is told at once and finds another gateway; everybody else gets their answer first.
	server.RegisterOnShutdown(endStreams)
	var group errgroup.Group
	served := make(chan struct{})
	group.Go(func() error {
		defer close(served)
		if err := server.Serve(lis); !errors.Is(err, http.ErrServerClosed) {
			return fmt.Errorf("serve requests: %w", err)
		}
		return nil
	})
	group.Go(func() error { return g.serveDebug(work) })
	group.Go(func() error { g.watch(work); return nil })
	group.Go(func() error { g.sweep(work); return nil })
	g.log.Info("serving", zap.Stringer("address", lis.Addr()))
	select {
	case <-ctx.Done():
		err = g.drain(server)
	case <-served:
	}
	stop()
	return errors.Join(err, group.Wait())
}

func (g *gateway) drain(server *http.Server) error {
	g.log.Info("draining")
	g.ready.drain()
	ctx, cancel := context.WithTimeout(context.Background(), stopWithin)
	defer cancel()
	if err := server.Shutdown(ctx); err != nil {
		g.log.Warn("cutting requests still in flight", zap.Error(err))
		return server.Close()
	}
	return nil
}

// serveDebug answers operators on a port of their own.
func (g *gateway) serveDebug(ctx context.Context) error {
	if g.cfg.DebugListen == "" {
		return nil
	}
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", g.cfg.DebugListen)
	if err != nil {
		return fmt.Errorf("listen for operators: %w", err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", g.metrics.Handler())
	mux.HandleFunc("GET /healthz", alive)
	mux.HandleFunc("GET /readyz", g.ready.answer)
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second}
	stopped := context.AfterFunc(ctx, func() { _ = server.Close() }) // nobody waits for the operators' port
	defer stopped()
	if err := server.Serve(lis); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve operators: %w", err)
	}
	return nil
}

// watch asks the database how it is. A service that is away makes its pages fail, not the gateway: it stays ready.
func (g *gateway) watch(ctx context.Context) {
	every(ctx, healthEvery, func() {
		asking, cancel := context.WithTimeout(ctx, healthEvery)
		defer cancel()
		err := g.db.Ready(asking, migrations.Latest(schema))
		if g.ready.set(err) {
			g.log.Info("readiness changed", zap.Error(err))
		}
	})
}

func (g *gateway) sweep(ctx context.Context) {
	every(ctx, sweepEvery, func() {
		if err := g.keeper.Sweep(ctx); err != nil && ctx.Err() == nil {
			g.log.Warn("old sessions were not swept", zap.Error(err))
		}
	})
}

func every(ctx context.Context, pause time.Duration, do func()) {
	ticker := time.NewTicker(pause)
	defer ticker.Stop()
	for {
		do()
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}

func alive(w http.ResponseWriter, _ *http.Request) { _, _ = fmt.Fprintln(w, "alive") }

var errDraining = errors.New("draining")

// readiness is the last answer of the database, for balancers.
type readiness struct {
	mu    sync.Mutex
	known bool
	err   error
}

// set reports whether the answer changed.
func (r *readiness) set(err error) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if errors.Is(r.err, errDraining) {
		return false
	}
	changed := !r.known || (r.err == nil) != (err == nil)
	r.known, r.err = true, err
	return changed
}

func (r *readiness) drain() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.known, r.err = true, errDraining
}

// answer keeps the cause to the log: this page is public.
func (r *readiness) answer(w http.ResponseWriter, _ *http.Request) {
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case !r.known:
		http.Error(w, "starting", http.StatusServiceUnavailable)
	case errors.Is(r.err, errDraining):
		http.Error(w, "draining", http.StatusServiceUnavailable)
	case r.err != nil:
		http.Error(w, "not ready: the database does not answer or is older than this release", http.StatusServiceUnavailable)
	default:
		_, _ = fmt.Fprintln(w, "ready")
	}
}
