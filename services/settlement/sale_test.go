package settlement_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// sold is a sale of the warehouse, by its paper.
func sold(paper string, kind inventoryv1.SaleKind, parts ...*inventoryv1.SalePart) *inventoryv1.SaleRecorded {
	return &inventoryv1.SaleRecorded{Sale: &inventoryv1.Sale{
		Name: "sales/" + made(paper), Shipment: "shipments/" + made("shipment"), Kind: kind, Document: paper, EntryDate: "2026-09-18", Parts: parts,
	}}
}

func part(variety string, year int32, amount string) *inventoryv1.SalePart {
	return &inventoryv1.SalePart{Variety: variety, CropYear: year, Mass: lb("640.0"), Amount: usd(amount)}
}

func TestWhatShipmentsBroughtIsBookedOnceInThePoolWhoseHoneyItWas(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	invoice := sold("Invoice 114", inventoryv1.SaleKind_SALE_KIND_PROCEEDS, part("clover", 2025, "100.00"), part("clover", 2026, "1300.01"), part("linden", 2026, "0.00"))
	m.take(invoice)
	m.take(invoice)
	m.take(sold("Freight 77", inventoryv1.SaleKind_SALE_KIND_EXPENSE, part("clover", 2026, "85.50")))
	unbooked := func() []*settlementv1.UnbookedSale {
		list, err := m.as(auditor).ListUnbookedSales(t.Context(), &settlementv1.ListUnbookedSalesRequest{PageSize: 1000})
		require.NoError(t, err)
		return list.GetParts()
	}
	require.Len(t, unbooked(), 3, "a part of nothing waits for nobody")
	first, err := m.as(auditor).ListUnbookedSales(t.Context(), &settlementv1.ListUnbookedSalesRequest{PageSize: 2})
	require.NoError(t, err)
	rest, err := m.as(auditor).ListUnbookedSales(t.Context(), &settlementv1.ListUnbookedSalesRequest{PageSize: 2, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	require.Len(t, rest.GetParts(), 1)

	book := &settlementv1.BookSalesRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()}
	booked, err := m.as(office).BookSales(t.Context(), book)
	require.NoError(t, err)
	require.Len(t, booked.GetEntries(), 2, "honey of 2025 is of another pool")
	require.Equal(t, "640.0 lb of clover of 2026, shipped", booked.GetEntries()[0].GetDescription())
	again, err := m.as(office).BookSales(t.Context(), &settlementv1.BookSalesRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()})
	require.NoError(t, err)
	require.Empty(t, again.GetEntries())
	p, err := m.as(auditor).GetPool(t.Context(), &settlementv1.GetPoolRequest{Name: m.pool.GetName()})
	require.NoError(t, err)
	require.Equal(t, []string{"1300.01", "1214.51"}, []string{p.GetProceeds().GetAmount(), p.GetDistributable().GetAmount()})
	list, err := m.as(auditor).ListPoolEntries(t.Context(), &settlementv1.ListPoolEntriesRequest{Pool: m.pool.GetName()})
	require.NoError(t, err)
	names := []string{list.GetEntries()[0].GetSale(), list.GetEntries()[1].GetSale()}
	require.ElementsMatch(t, []string{"sales/" + made("Invoice 114"), "sales/" + made("Freight 77")}, names)
	left := unbooked()
	require.Len(t, left, 1)
	require.Empty(t, left[0].GetPool(), "no pool of 2025 is open")

	m.sells("5000.00")
	m.settled()
	m.take(sold("Invoice 115", inventoryv1.SaleKind_SALE_KIND_PROCEEDS, part("clover", 2026, "10.00")))
	book.RequestId = uuid.NewString()
	_, err = m.as(office).BookSales(t.Context(), book)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
	require.Len(t, unbooked(), 2)
}
