// Package rest maps JSON over HTTP to the services' RPCs under /v1, and serves logins and sessions beside them.
package rest

import (
	"context"
	"fmt"
	"net/http"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	"barrelhead.example/gateway/internal/edge"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
)

// requestIDKey is where the services look for the id of a call that has none of its own.
const requestIDKey = "barrelhead-request-id"

// Services are the connections to the four services, over real sockets with mutual TLS: only so do the interceptors that
// check callers and requests run.
type Services struct {
	Intake, Grading, Inventory, Settlement grpc.ClientConnInterface
}

// Metadata is what a call carries for the visitor: who they are, and the id to find it by.
func Metadata(ctx context.Context, v edge.Visitor) context.Context {
	ctx = access.Outgoing(ctx, v.Actor())
	return metadata.AppendToOutgoingContext(ctx, requestIDKey, edge.RequestID(ctx))
}

func newMapper(ctx context.Context, s Services) (http.Handler, error) {
	mux := runtime.NewServeMux(
		runtime.WithMarshalerOption(runtime.MIMEWildcard, newMarshaler()),
		runtime.WithStreamErrorHandler(onStreamError),
		runtime.WithMiddlewares(newRoutes(ctx).check),
		runtime.WithMetadata(identity),
		runtime.WithIncomingHeaderMatcher(nothing), runtime.WithOutgoingHeaderMatcher(nothing), runtime.WithOutgoingTrailerMatcher(nothing),
		runtime.WithErrorHandler(onError), runtime.WithRoutingErrorHandler(onRouting),
		runtime.WithDisablePathLengthFallback(), runtime.WithDisableHTTPMethodOverride(),
		runtime.WithWriteContentLength(),
	)
	for _, err := range []error{
		intakev1.RegisterIntakeServiceHandlerClient(ctx, mux, intakev1.NewIntakeServiceClient(s.Intake)),
		intakev1.RegisterIndicatorServiceHandlerClient(ctx, mux, intakev1.NewIndicatorServiceClient(s.Intake)),
		intakev1.RegisterDockTermsServiceHandlerClient(ctx, mux, intakev1.NewDockTermsServiceClient(s.Intake)),
		gradingv1.RegisterGradingServiceHandlerClient(ctx, mux, gradingv1.NewGradingServiceClient(s.Grading)),
		inventoryv1.RegisterInventoryServiceHandlerClient(ctx, mux, inventoryv1.NewInventoryServiceClient(s.Inventory)),
		inventoryv1.RegisterWarehouseRecordsServiceHandlerClient(ctx, mux, inventoryv1.NewWarehouseRecordsServiceClient(s.Inventory)),
		inventoryv1.RegisterPackingServiceHandlerClient(ctx, mux, inventoryv1.NewPackingServiceClient(s.Inventory)),
		inventoryv1.RegisterSalesServiceHandlerClient(ctx, mux, inventoryv1.NewSalesServiceClient(s.Inventory)),
		inventoryv1.RegisterWriteOffServiceHandlerClient(ctx, mux, inventoryv1.NewWriteOffServiceClient(s.Inventory)),
		settlementv1.RegisterSettlementServiceHandlerClient(ctx, mux, settlementv1.NewSettlementServiceClient(s.Settlement)),
		settlementv1.RegisterMemberAccountServiceHandlerClient(ctx, mux, settlementv1.NewMemberAccountServiceClient(s.Settlement)),
		settlementv1.RegisterPoolSalesServiceHandlerClient(ctx, mux, settlementv1.NewPoolSalesServiceClient(s.Settlement)),
	} {
		if err != nil {
			return nil, fmt.Errorf("map the services: %w", err)
		}
	}
	return stripped(mux), nil
}

func nothing(string) (string, bool) { return "", false }

// identity is the only metadata a call carries.
func identity(ctx context.Context, _ *http.Request) metadata.MD {
	v, ok := edge.VisitorFrom(ctx)
	if !ok {
		return metadata.Pairs(requestIDKey, edge.RequestID(ctx))
	}
	md, _ := metadata.FromOutgoingContext(Metadata(ctx, v))
	return md
}

// stripped hides every header of the client from the mapper. It turns some of them into metadata and a deadline, and
// passes Authorization, which is our secret and no service's business.
func stripped(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r = r.Clone(r.Context())
		r.Header = http.Header{"Content-Type": {"application/json"}}
		w.Header().Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}
