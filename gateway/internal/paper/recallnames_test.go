package paper

import (
	"testing"

	"github.com/stretchr/testify/require"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// A drum comes back every year, and ids may begin alike: what could be another barrel is written so that it cannot.
func TestRecall_NamesTwoFillingsOfOneDrumApart(t *testing.T) {
	t.Parallel()
	const old, now, alone = "stock/11111111-0000-4000-8000-000000000001", "stock/22222222-0000-4000-8000-000000000002", "stock/33333333-0000-4000-8000-000000000003"
	place := func(name, as string) *inventoryv1.TracePlace {
		return &inventoryv1.TracePlace{Name: name, KnownAs: as}
	}
	r := newRecall(&inventoryv1.TraceResponse{
		Name: "packLots/44444444-0000-4000-8000-000000000004",
		Sources: []*inventoryv1.TraceSource{
			{StockItem: old, Ticket: "tickets/55555555-0000-4000-8000-000000000005"}, {StockItem: now, Ticket: "tickets/55555555-0000-4000-8000-000000000006"}, {StockItem: alone},
		},
		Customers: []*inventoryv1.TraceCustomer{
			{Customer: "North Mill Bakery", Shipment: "shipments/66666666-0000-4000-8000-000000000006"},
			{Customer: "North Mill Bakery", Shipment: "shipments/77777777-0000-4000-8000-000000000007"},
			{Customer: "Creekside Grocers", Shipment: "shipments/88888888-0000-4000-8000-000000000008"},
		},
		Places: []*inventoryv1.TracePlace{place(old, "FC-00442"), place(now, "FC-00442"), place(alone, "FC-00442-B"), {Name: "packLots/44444444-0000-4000-8000-000000000004", KnownAs: "FC26258T101M", BestByDate: "2029-02-28"}},
	})
	require.Equal(t, "drum FC-00442, barrel 11111111", r.called(old))
	require.Equal(t, "drum FC-00442, barrel 22222222", r.called(now))
	require.Equal(t, "drum FC-00442-B", r.called(alone))
	require.Equal(t, "55555555-0000-4000-8000-000000000005", r.brief["tickets/55555555-0000-4000-8000-000000000005"])
	require.Equal(t, "lot FC26258T101M, best by 28 Feb 2029", r.withDay(r.GetName()))
	require.Equal(t, "North Mill Bakery, shipment 77777777", r.called("shipments/77777777-0000-4000-8000-000000000007"))
	require.Equal(t, "Creekside Grocers", r.called("shipments/88888888-0000-4000-8000-000000000008"))
	require.Equal(t, "lost: filter", r.called("losses/FILTER"))
}
