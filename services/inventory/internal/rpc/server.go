// Package rpc serves the services of barrelhead.inventory.v1: messages in, app, messages out.
package rpc

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/grpc"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/kit/apierr"
)

// Server implements the services over app.
type Server struct {
	inventoryv1.UnimplementedInventoryServiceServer
	inventoryv1.UnimplementedWarehouseRecordsServiceServer
	inventoryv1.UnimplementedPackingServiceServer
	inventoryv1.UnimplementedSalesServiceServer
	inventoryv1.UnimplementedWriteOffServiceServer
	app *app.App
}

// New serves a.
func New(a *app.App) *Server { return &Server{app: a} }

// Register serves a under every service.
func Register(r grpc.ServiceRegistrar, a *app.App) {
	s := New(a)
	inventoryv1.RegisterInventoryServiceServer(r, s)
	inventoryv1.RegisterWarehouseRecordsServiceServer(r, s)
	inventoryv1.RegisterPackingServiceServer(r, s)
	inventoryv1.RegisterSalesServiceServer(r, s)
	inventoryv1.RegisterWriteOffServiceServer(r, s)
}

// parseName reads "collection/{uuid}" from a field of the request.
func parseName(field, collection, name string) (uuid.UUID, error) {
	rest, ok := strings.CutPrefix(name, collection+"/")
	id, err := uuid.Parse(rest)
	if !ok || err != nil {
		return uuid.UUID{}, apierr.Field(field, fmt.Sprintf("%.80q is not a name such as %s/{uuid}", name, collection))
	}
	return id, nil
}
