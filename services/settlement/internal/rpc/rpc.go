// Package rpc serves settlement over gRPC. Callers, roles and the shape of requests were checked before it is reached, and
// errors are translated after.
package rpc

import (
	"google.golang.org/grpc"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/settlement/internal/app"
)

// Server implements settlementv1.SettlementServiceServer, settlementv1.MemberAccountServiceServer and settlementv1.PoolSalesServiceServer by the commands and queries of the app, which speak the wire's
// messages already because the request ledger and the feed store them. The unsafe base makes a missing method fail the build.
type Server struct {
	settlementv1.UnsafeSettlementServiceServer
	settlementv1.UnsafeMemberAccountServiceServer
	settlementv1.UnsafePoolSalesServiceServer
	*app.App
}

// Register adds the services to a server.
func Register(r grpc.ServiceRegistrar, a *app.App) {
	settlementv1.RegisterSettlementServiceServer(r, Server{App: a})
	settlementv1.RegisterMemberAccountServiceServer(r, Server{App: a})
	settlementv1.RegisterPoolSalesServiceServer(r, Server{App: a})
}
