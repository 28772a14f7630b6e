// Package gateway is the door of the suite: REST and web pages for people and programs, logins and sessions. It talks to
// all four services and holds no business rule.
package gateway

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/paper"
	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/gateway/internal/web"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/logging"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/telemetry"
)

// schema is where logins and sessions live.
const schema = "gateway"

var peers = []string{"intake", "grading", "inventory", "settlement"}

// Run serves on cfg.Listen until ctx ends, then drains and returns nil.
func Run(ctx context.Context, cfg Config) error {
	lis, err := (&net.ListenConfig{}).Listen(ctx, "tcp", cfg.Listen)
	if err != nil {
		return fmt.Errorf("listen for requests: %w", err)
	}
	return Serve(ctx, cfg, lis)
}

// Serve is Run on a listener that is open already, so that port 0 can be used. It closes the listener.
func Serve(ctx context.Context, cfg Config, lis net.Listener) (err error) {
	if err := checkTransport(cfg, lis.Addr()); err != nil {
		return errors.Join(err, lis.Close())
	}
	g, err := open(ctx, cfg)
	if err != nil {
		return errors.Join(err, lis.Close())
	}
	defer func() { err = errors.Join(err, g.close()) }()
	if cfg.HTTPS.Cert != "" {
		certificate, err := tls.LoadX509KeyPair(cfg.HTTPS.Cert, cfg.HTTPS.Key)
		if err != nil {
			return errors.Join(fmt.Errorf("read the public certificate: %w", err), lis.Close())
		}
		lis = tls.NewListener(lis, &tls.Config{
			MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{certificate}, NextProtos: []string{"h2", "http/1.1"},
		})
	}
	return g.run(ctx, lis)
}

// checkTransport refuses to take passwords over a network in the clear by accident.
func checkTransport(cfg Config, address net.Addr) error {
	tcp, ok := address.(*net.TCPAddr)
	if cfg.HTTPS.Cert != "" || cfg.Transport != TransportLoopback || !ok || tcp.IP.IsLoopback() {
		return nil
	}
	return fmt.Errorf(`listening on %s without HTTPS: passwords could be read on the way. Give "https" a certificate, or set "transport" to "proxy" behind an HTTPS proxy or to "plain" on a closed network`, address)
}

// gateway is one running gateway.
type gateway struct {
	cfg     Config
	log     *zap.Logger
	db      *pg.DB
	keeper  *session.Keeper
	conns   map[string]*grpc.ClientConn
	traces  *telemetry.Traces
	metrics *telemetry.Registry
	ready   readiness
}

func open(ctx context.Context, cfg Config) (*gateway, error) {
	if cfg.Name == "" {
		cfg.Name = "gateway"
	}
	log, err := logging.New(cfg.Name, cfg.LogLevel)
	if err != nil {
		return nil, fmt.Errorf("open log: %w", err)
	}
	traces, err := telemetry.OpenTraces(ctx, cfg.Name, cfg.OTLPEndpoint)
	if err != nil {
		return nil, fmt.Errorf("open traces: %w", err)
	}
	db, err := openDatabase(ctx, cfg, log)
	if err != nil {
		return nil, err
	}
	conns, err := rpcdial.All(ctx, cfg.Service, peers, traces.Client())
	if err != nil {
		db.Close()
		return nil, fmt.Errorf("dial the services: %w", err)
	}
	metrics := telemetry.New(cfg.Name)
	if err := metrics.Register(pg.Metrics(db)); err != nil {
		db.Close()
		return nil, fmt.Errorf("register metrics: %w", err)
	}
	return &gateway{
		cfg: cfg, log: log, db: db, conns: conns, traces: traces, metrics: metrics,
		keeper: session.New(db, clock.System, cfg.policy()),
	}, nil
}

func openDatabase(ctx context.Context, cfg Config, log *zap.Logger) (*pg.DB, error) {
	url, err := cfg.Database.Connection()
	if err != nil {
		return nil, err
	}
	db, err := pg.Open(ctx, pg.Config{URL: url, Schema: schema}, log)
	if err != nil {
		return nil, fmt.Errorf("open database: %w", err)
	}
	return db, nil
}

func (g *gateway) close() error {
	var faults []error
	for _, conn := range g.conns {
		faults = append(faults, conn.Close())
	}
	g.db.Close()
	closing, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := g.traces.Close(closing); err != nil {
		// Lost traces are no reason to call an orderly end a failure.
		g.log.Warn("traces were lost", zap.Error(err))
	}
	return errors.Join(faults...)
}

// handler is everything the gateway answers. Streams end with ctx.
func (g *gateway) handler(ctx context.Context) (http.Handler, error) {
	door := edge.NewDoor(g.keeper, g.cfg.secure())
	services := rest.Services{Intake: g.conns["intake"], Grading: g.conns["grading"], Inventory: g.conns["inventory"], Settlement: g.conns["settlement"]}
	api, err := rest.New(ctx, door, services)
	if err != nil {
		return nil, fmt.Errorf("build REST: %w", err)
	}
	papers, err := paper.Over(api, paper.Options{
		Door: door, Services: services, Cooperative: g.cfg.Cooperative, Prefix: g.cfg.GS1Prefix, DisputeDays: g.cfg.DisputeDays, Log: g.log,
	})
	if err != nil {
		return nil, fmt.Errorf("build papers: %w", err)
	}
	pages, err := web.New(web.Options{Door: door, Services: services, Cooperative: g.cfg.Cooperative, Clock: clock.System, Log: g.log, Papers: papers})
	if err != nil {
		return nil, fmt.Errorf("build pages: %w", err)
	}
	trusted, err := edge.ParseProxies(g.cfg.TrustedProxies)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.Handle("/v1/", papers)
	mux.Handle("/", pages)
	mux.HandleFunc("GET /healthz", alive)
	mux.HandleFunc("GET /readyz", g.ready.answer)
	return edge.Wrap(mux, edge.Options{
		Log: g.log, Metrics: g.metrics, Tracer: g.traces.Tracer("barrelhead.example/gateway"), Clock: clock.System, Trusted: trusted, Secure: g.cfg.secure(),
	}), nil
}
