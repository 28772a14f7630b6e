package rpc_test

import (
	"context"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/app"
	"barrelhead.example/services/inventory/internal/rpc"
	"barrelhead.example/services/inventory/internal/store"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/kit/rpctest"
)

// watched counts how often the ledger is read, which every trace does first.
type watched struct {
	store.Store
	reads *atomic.Int64
}

func (w watched) News(ctx context.Context, q pg.Querier, above int64, numbers []int64, known int64) (app.News, error) {
	w.reads.Add(1)
	return w.Store.News(ctx, q, above, numbers, known) //nolint:wrapcheck // as the store says it
}

func TestARepeatIsAnsweredWithoutATrace(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot := f.packed()
	shipment := f.sent(lot.GetName(), 1).GetName()
	w := watched{reads: &atomic.Int64{}}
	a := (&app.App{
		DB: f.db, Clock: f.clock, Unit: quantity.LB, Currency: "USD", Site: "FC", Zone: time.UTC, Stock: store.Store{}, Lots: w,
	}).Ready()
	server := rpctest.New(t, func(r grpc.ServiceRegistrar) { rpc.Register(r, a) })
	desk := inventoryv1.NewSalesServiceClient(server.As(rpctest.Person("office1", office)))
	lead := inventoryv1.NewWarehouseRecordsServiceClient(server.As(rpctest.Person("lead1", labLead)))
	sale := &inventoryv1.RecordSaleRequest{
		RequestId: request(), Shipment: shipment, Kind: inventoryv1.SaleKind_SALE_KIND_PROCEEDS, Amount: dollars("10.00"), Document: "Invoice 1", EntryDate: "2026-09-14",
	}
	start := &inventoryv1.StartRecallDrillRequest{RequestId: request(), Subject: "packLots/" + lot.GetCode()}
	for name, ask := range map[string]func() (proto.Message, error){
		"RecordSale":       func() (proto.Message, error) { return desk.RecordSale(t.Context(), sale) },
		"StartRecallDrill": func() (proto.Message, error) { return lead.StartRecallDrill(t.Context(), start) },
	} {
		before := w.reads.Load()
		first, err := ask()
		require.NoError(t, err, name)
		once := w.reads.Load()
		require.Greater(t, once, before, name+" traces")
		again, err := ask()
		require.NoError(t, err, name)
		require.True(t, proto.Equal(first, again), name)
		require.Equal(t, once, w.reads.Load(), name+" has its answer and traces no more")
	}

	traced := w.reads.Load()
	sale.Document, start.Subject = "Invoice 2", lot.GetName()
	_, err := desk.RecordSale(t.Context(), sale)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)
	_, err = lead.StartRecallDrill(t.Context(), start)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)
	require.Equal(t, traced, w.reads.Load(), "what is refused is refused at once")
}
