// Package rpctest runs the gRPC server of a service under test exactly as in production (certificates, allow-lists,
// roles, validation, error translation) on the loopback interface, and calls it as anybody.
package rpctest

import (
	"context"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/zap"
	"go.uber.org/zap/zaptest"
	"google.golang.org/grpc"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"

	"barrelhead.example/deploy/certs"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/rpcdial"
	"barrelhead.example/services/kit/rpcserve"
)

// serverName is the certificate the server under test shows; which service it really is does not matter to a client.
const serverName = "intake"

// patience bounds everything that should be immediate; it only shows when something hangs.
const patience = 30 * time.Second

// Server is a running server.
type Server struct {
	// Dir holds a certificate for every name of the suite.
	Dir string
	// Address is where it listens.
	Address string
	// Stop makes it drain and waits for its end, returning what Serve returned. It is called at the end of the test
	// when the test did not.
	Stop func() error

	t testing.TB
}

// Option changes the options of the server before it starts.
type Option func(*rpcserve.Options)

// New starts a server with the given implementations. Unless an option says otherwise, every process of the suite may
// call every service, so that the roles are what a test is about.
func New(t testing.TB, register func(grpc.ServiceRegistrar), options ...Option) *Server {
	t.Helper()
	s := &Server{t: t, Dir: t.TempDir()}
	_, err := certs.Ensure(s.Dir, certs.Names(), time.Now())
	require.NoError(t, err)
	lis, err := (&net.ListenConfig{}).Listen(context.Background(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.Address = lis.Addr().String()

	opts := rpcserve.Options{
		Config: config.Service{Name: serverName, TLS: certs.Files(s.Dir, serverName)},
		// Shown with a failed test: the cause of an INTERNAL is nowhere else.
		Log:   zaptest.NewLogger(t, zaptest.Level(zap.ErrorLevel)),
		Allow: everybody(register),
	}
	for _, change := range options {
		change(&opts)
	}
	s.Stop = s.start(opts, lis, register)
	return s
}

func (s *Server) start(opts rpcserve.Options, lis net.Listener, register func(grpc.ServiceRegistrar)) func() error {
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	var ended error
	go func() {
		defer close(done)
		ended = rpcserve.Serve(ctx, opts, lis, register)
	}()
	stop := func() error {
		cancel()
		<-done
		return ended
	}
	s.t.Cleanup(func() { require.NoError(s.t, stop()) })
	select {
	case <-done:
		require.NoError(s.t, ended)
	case <-s.answers(ctx):
	}
	return stop
}

// answers is closed when the server answers at all, healthy or not; a server that refused to start never does.
func (s *Server) answers(ctx context.Context) <-chan struct{} {
	up := make(chan struct{})
	conn := s.Dial("operator", grpc.WithDefaultServiceConfig(`{}`))
	go func() {
		defer close(up)
		// Whatever it says, even that the operator may not ask.
		_, _ = healthv1.NewHealthClient(conn).Check(ctx, &healthv1.HealthCheckRequest{})
	}()
	return up
}

// everybody lets every name of the suite call every service of ours that register registers.
func everybody(register func(grpc.ServiceRegistrar)) map[string][]string {
	seen := names{}
	register(seen)
	return seen
}

// names takes the place of a server to learn what would be registered.
type names map[string][]string

func (n names) RegisterService(desc *grpc.ServiceDesc, _ any) {
	if access.Ours(desc.ServiceName) {
		n[desc.ServiceName] = certs.Names()
	}
}

// As is a connection of the gateway on which every call is made for actor. It is ready when As returns.
func (s *Server) As(actor access.Actor) *grpc.ClientConn {
	s.t.Helper()
	return s.Dial(rpcserve.Gateway,
		grpc.WithChainUnaryInterceptor(func(ctx context.Context, method string, req, reply any, cc *grpc.ClientConn, invoke grpc.UnaryInvoker, opts ...grpc.CallOption) error {
			return invoke(As(ctx, actor), method, req, reply, cc, opts...)
		}),
		grpc.WithChainStreamInterceptor(func(ctx context.Context, desc *grpc.StreamDesc, cc *grpc.ClientConn, method string, open grpc.Streamer, opts ...grpc.CallOption) (grpc.ClientStream, error) {
			return open(As(ctx, actor), desc, cc, method, opts...)
		}))
}

// Gateway is a connection of the gateway that acts for nobody, unless a call's context says so with As.
func (s *Server) Gateway() *grpc.ClientConn {
	s.t.Helper()
	return s.Dial(rpcserve.Gateway)
}

// AsService is a connection of another service, e.g. "inventory".
func (s *Server) AsService(peer string) *grpc.ClientConn {
	s.t.Helper()
	return s.Dial(peer)
}

// Dial is a connection that shows the certificate of caller. Its calls wait for the server to be ready.
func (s *Server) Dial(caller string, extra ...grpc.DialOption) *grpc.ClientConn {
	s.t.Helper()
	cfg := config.Service{
		Name: caller, TLS: certs.Files(s.Dir, caller), Peers: map[string]string{serverName: s.Address},
	}
	extra = append(extra, grpc.WithDefaultCallOptions(grpc.WaitForReady(true)))
	conn, err := rpcdial.Dial(context.Background(), cfg, serverName, extra...)
	require.NoError(s.t, err)
	s.t.Cleanup(func() { _ = conn.Close() })
	return conn
}

// As returns a context whose calls on a connection of the gateway are made for actor.
func As(ctx context.Context, actor access.Actor) context.Context { return access.Outgoing(ctx, actor) }

// Person is somebody who works for the cooperative.
func Person(login string, roles ...accessv1.Role) access.Actor {
	return access.Actor{Login: "users/" + login, Roles: roles}
}

// Member is the login of a member, number "M-0007".
func Member(number string) access.Actor {
	return access.Actor{
		Login: "users/" + number, Roles: []accessv1.Role{accessv1.Role_ROLE_MEMBER}, Member: "members/" + number,
	}
}
