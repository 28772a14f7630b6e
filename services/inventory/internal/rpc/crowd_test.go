package rpc_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// crowd is more callers at once than the service has database connections.
const crowd = 40

// together has a crowd ask at once; all must be answered long before they would give up.
func together(t *testing.T, ask func(ctx context.Context) error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	faults := make([]error, crowd)
	var all sync.WaitGroup
	for n := range crowd {
		all.Go(func() { faults[n] = ask(ctx) })
	}
	all.Wait()
	for _, err := range faults {
		require.NoError(t, err)
	}
}

func TestSalesRecordedByACrowdDoNotWaitForOneAnother(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	shipment, desk, again := f.sent(f.packed().GetName(), 1).GetName(), f.sales("office1", office), request()
	record := func(ctx context.Context, id, document string) error {
		_, err := desk.RecordSale(ctx, &inventoryv1.RecordSaleRequest{
			RequestId: id, Shipment: shipment, Kind: inventoryv1.SaleKind_SALE_KIND_PROCEEDS, Amount: dollars("10.00"), Document: document, EntryDate: "2026-09-14",
		})
		return err
	}
	together(t, func(ctx context.Context) error { return record(ctx, again, "invoice 1, sent again and again") })
	together(t, func(ctx context.Context) error { id := request(); return record(ctx, id, "invoice "+id) })
	list, err := desk.ListSales(t.Context(), &inventoryv1.ListSalesRequest{PageSize: 1000})
	require.NoError(t, err)
	require.Len(t, list.GetSales(), crowd+1)
}

func TestRecallDrillsStartedByACrowdDoNotWaitForOneAnother(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	lot, again := f.packed().GetName(), request()
	start := func(ctx context.Context, id string) error {
		_, err := f.records("lead1", labLead).StartRecallDrill(ctx, &inventoryv1.StartRecallDrillRequest{RequestId: id, Subject: lot})
		return err
	}
	together(t, func(ctx context.Context) error { return start(ctx, again) })
	together(t, func(ctx context.Context) error { return start(ctx, request()) })
}
