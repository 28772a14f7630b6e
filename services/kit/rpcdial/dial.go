// Package rpcdial opens the connection of one service to another.
package rpcdial

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/backoff"
	"google.golang.org/grpc/credentials"
	_ "google.golang.org/grpc/health" // the client side of health checks
	"google.golang.org/grpc/keepalive"

	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/mtls"
	"barrelhead.example/services/kit/rpcserve"
)

// deadline bounds a unary call of a caller that set none.
const deadline = 30 * time.Second

// Dial returns a connection to the service named peer at the address cfg.Peers gives it. It does not wait: calls fail
// with UNAVAILABLE until the peer is there and healthy, unless they use grpc.WaitForReady. The peer must show a
// certificate for its name. Calls go round robin over all healthy replicas; those that are safe to send twice are
// repeated when a replica is lost. extra may add e.g. telemetry.Traces.Client().
func Dial(_ context.Context, cfg config.Service, peer string, extra ...grpc.DialOption) (*grpc.ClientConn, error) {
	address, ok := cfg.Peers[peer]
	if !ok || address == "" {
		return nil, fmt.Errorf("dial %s: settings give no address for it under peers", peer)
	}
	certificates, err := mtls.Open(cfg.TLS)
	if err != nil {
		return nil, fmt.Errorf("dial %s: %w", peer, err)
	}
	conn, err := grpc.NewClient(Target(address), append(options(certificates, peer), extra...)...)
	if err != nil {
		return nil, fmt.Errorf("dial %s at %s: %w", peer, address, err)
	}
	return conn, nil
}

// Target names the resolver where address leaves it open: none for an IP address, DNS for a name.
func Target(address string) string {
	if strings.Contains(address, ":///") {
		return address
	}
	if _, err := netip.ParseAddrPort(address); err == nil {
		return "passthrough:///" + address
	}
	return "dns:///" + address
}

func options(certificates *mtls.Keeper, peer string) []grpc.DialOption {
	return []grpc.DialOption{
		grpc.WithTransportCredentials(credentials.NewTLS(certificates.Client(peer))),
		grpc.WithDefaultServiceConfig(serviceConfig()),
		// A TXT record must not be able to change how we call.
		grpc.WithDisableServiceConfig(),
		grpc.WithDefaultCallOptions(
			grpc.MaxCallRecvMsgSize(rpcserve.MaxMessage), grpc.MaxCallSendMsgSize(rpcserve.MaxMessage),
		),
		grpc.WithKeepaliveParams(keepalive.ClientParameters{
			Time: 20 * time.Second, Timeout: 5 * time.Second, PermitWithoutStream: true,
		}),
		// A restarted neighbour should be found again in a moment, not after the library's two minutes.
		grpc.WithConnectParams(grpc.ConnectParams{
			Backoff:           backoff.Config{BaseDelay: 100 * time.Millisecond, Multiplier: 1.6, Jitter: 0.2, MaxDelay: 3 * time.Second},
			MinConnectTimeout: 5 * time.Second,
		}),
		grpc.WithChainUnaryInterceptor(withDeadline),
	}
}

func withDeadline(ctx context.Context, method string, req, reply any, cc *grpc.ClientConn, invoke grpc.UnaryInvoker, opts ...grpc.CallOption) error {
	if _, given := ctx.Deadline(); given {
		return invoke(ctx, method, req, reply, cc, opts...)
	}
	ctx, cancel := context.WithTimeout(ctx, deadline)
	defer cancel()
	return invoke(ctx, method, req, reply, cc, opts...)
}

// All dials every named peer. On an error it closes those already open.
func All(ctx context.Context, cfg config.Service, peers []string, extra ...grpc.DialOption) (map[string]*grpc.ClientConn, error) {
	conns := map[string]*grpc.ClientConn{}
	for _, peer := range peers {
		conn, err := Dial(ctx, cfg, peer, extra...)
		if err != nil {
			for _, open := range conns {
				err = errors.Join(err, open.Close())
			}
			return nil, err
		}
		conns[peer] = conn
	}
	return conns, nil
}
