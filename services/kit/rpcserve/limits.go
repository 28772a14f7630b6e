package rpcserve

import (
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/keepalive"

	"barrelhead.example/services/kit/mtls"
	"barrelhead.example/services/kit/telemetry"
)

const (
	// MaxMessage is the largest message either way: a feed page of a thousand events with room to spare.
	MaxMessage = 16 << 20
	// clientPing is the shortest interval at which a client may ask whether the connection still lives.
	clientPing = 10 * time.Second
	// workers keep their grown stacks from call to call; more calls than workers get goroutines of their own.
	workers = 32
)

func serverOptions(certificates *mtls.Keeper, traces *telemetry.Traces, chain *chain) []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.Creds(credentials.NewTLS(certificates.Server())),
		traces.Server(),
		grpc.ChainUnaryInterceptor(chain.unary()...),
		grpc.ChainStreamInterceptor(chain.stream()...),
		grpc.NumStreamWorkers(workers),
		grpc.MaxRecvMsgSize(MaxMessage),
		grpc.MaxSendMsgSize(MaxMessage),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: clientPing, PermitWithoutStream: true}),
		grpc.KeepaliveParams(keepalive.ServerParameters{
			Time: 30 * time.Second, Timeout: 10 * time.Second,
			// Connections end now and then so that clients look for replicas started since.
			MaxConnectionAge: 30 * time.Minute, MaxConnectionAgeGrace: 10 * time.Minute,
		}),
	}
}
