package rpc_test

import (
	"context"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/inventory/internal/rpc"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpctest"
)

const (
	office    = accessv1.Role_ROLE_OFFICE
	warehouse = accessv1.Role_ROLE_WAREHOUSE
	labLead   = accessv1.Role_ROLE_LAB_LEAD
	line      = accessv1.Role_ROLE_LINE
)

// house is a running warehouse.
type house struct {
	t      *testing.T
	db     *pg.DB
	clock  *clock.Fake
	server *rpctest.Server
}

func open(t *testing.T) *house {
	t.Helper()
	h := &house{t: t, db: pgtest.New(t, "inventory"), clock: clock.NewFake(fixture.Start.Add(24 * time.Hour))}
	zone, err := time.LoadLocation("America/Chicago") // days and months of the house are not those of its database
	require.NoError(t, err)
	a := (&app.App{
		DB: h.db, Clock: h.clock, Unit: quantity.LB, Currency: "USD", Site: "FC", Zone: zone, Prefix: "0614141", Stock: store.Store{}, Lots: store.Store{},
	}).Ready()
	h.server = rpctest.New(t, func(r grpc.ServiceRegistrar) { rpc.Register(r, a) })
	return h
}

// as is the service as seen by a person.
func (h *house) as(login string, roles ...accessv1.Role) inventoryv1.InventoryServiceClient {
	return inventoryv1.NewInventoryServiceClient(h.server.As(rpctest.Person(login, roles...)))
}

// packing is the line's own service as seen by a person.
func (h *house) packing(login string, roles ...accessv1.Role) inventoryv1.PackingServiceClient {
	return inventoryv1.NewPackingServiceClient(h.server.As(rpctest.Person(login, roles...)))
}

// clear clears a line for its next lot.
func (h *house) clear(name string) {
	h.t.Helper()
	_, err := h.packing("line1", line).RecordLineClearance(h.t.Context(), &inventoryv1.RecordLineClearanceRequest{
		RequestId: request(), Line: name, LabelsGone: true, JarsGone: true, GlassClear: true, Cleaning: "flushed with water and dried",
	})
	require.NoError(h.t, err)
}

// deliver closes a ticket of n barrels of 640 lb numbered from first, each with a certificate.
func (h *house) deliver(first, n int) {
	h.t.Helper()
	d := fixture.Delivery{Number: first, Member: "members/M-0007", CropYear: 2026, Date: "2026-09-14", Declared: true}
	for i := range n {
		d.Barrels = append(d.Barrels, fixture.Barrel{Number: first + i, Net: "640.0", Variety: "clover"})
	}
	fixture.Apply(h.t, h.db, d.Events()...)
	for i, b := range d.Barrels {
		fixture.Apply(h.t, h.db, fixture.Certified(b, fixture.Grade{Number: first + i, Grade: "A", ColorClass: "WHITE", Moisture: "17.4", Pfund: "30.0"}))
	}
}

func item(n int) string { return "stock/" + fixture.ID("barrel", n).String() }

func request() string { return uuid.NewString() }

func (h *house) hold(c inventoryv1.InventoryServiceClient, n int, code inventoryv1.HoldCode) *inventoryv1.Hold {
	h.t.Helper()
	placed, err := c.PlaceHold(context.Background(), &inventoryv1.PlaceHoldRequest{
		RequestId: request(), StockItem: item(n), Code: code, Reason: "screen pending",
	})
	require.NoError(h.t, err)
	return placed
}

func (h *house) events(kind string) (n int) {
	h.t.Helper()
	require.NoError(h.t, h.db.Pool().QueryRow(h.t.Context(),
		`SELECT count(*) FROM event_pending WHERE type = 'barrelhead.inventory.v1.' || $1`, kind).Scan(&n))
	return n
}
