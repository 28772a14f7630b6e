package web_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

func TestOrders_GoFromTheCustomerToTheInvoice(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("office1")
	_, body := open(t, client, w.URL+"/customers")
	require.Contains(t, body, "quality desk, 555 0199 day and night")
	answer, _ := send(t, client, w.URL+"/customers/new", url.Values{"name": {"market-hall"}, "title": {"Market Hall Larder"}, "address": {"4 Mill Lane"}, "recall_contact": {"555 0199"}})
	require.Equal(t, "/customers", answer.Header.Get("Location"))
	require.Equal(t, "customers/MARKET-HALL", last(t, w, &inventoryv1.RecordCustomerRequest{}).GetName())

	_, body = open(t, client, w.URL+"/orders")
	require.Contains(t, body, "1 order to ship")
	require.Contains(t, body, "1,240 of 1,480 jars")
	require.Contains(t, body, "they have enough")
	page := w.URL + "/orders/new"
	_, body = send(t, client, page, url.Values{"customer": {"market-hall"}, "due_date": {"2026-10-14"}, "lines": {"clover-1lb-1 480 and more"}})
	require.Contains(t, body, "it needs label and jars")
	answer, _ = send(t, client, page, url.Values{"customer": {"market-hall"}, "due_date": {"2026-10-14"}, "lines": {"clover-1lb-1 1,480"}, "bulk": {"640,5"}})
	require.Equal(t, "/orders", answer.Header.Get("Location"))
	placed := last(t, w, &inventoryv1.PlaceOrderRequest{})
	require.Equal(t, "labels/CLOVER-1LB-1", placed.GetLines()[0].GetLabel())
	require.Equal(t, int64(1480), placed.GetLines()[0].GetJars())
	require.Equal(t, "640.5", placed.GetBulk().GetValue())
	answer, _ = send(t, client, w.URL+"/orders/"+gatetest.SalesOrderID+"/cancel", url.Values{"reason": {"they have enough"}})
	require.Equal(t, "/orders", answer.Header.Get("Location"))

	warehouse := w.Browser("warehouse1")
	_, body = open(t, warehouse, w.URL+"/shipments/new?order=orders/"+gatetest.SalesOrderID)
	require.NotContains(t, body, `name="customer"`, "an order has its customer")
	require.Contains(t, body, "What leaves for MARKET-HALL")
	require.Contains(t, body, "1,240 of 1,480 jars of CLOVER-1LB-1 shipped so far.")
	w.House.Refuse(&inventoryv1.ShipRequest{}, apierr.Field("lines", "order PO 88 of MARKET-HALL has 240 jars of label CLOVER-1LB-1 left to ship, 9,759 more cannot leave for it"))
	_, body = send(t, warehouse, w.URL+"/shipments/new", url.Values{"order": {"orders/" + gatetest.SalesOrderID}, "carrier": {"Valley Freight"}, "lines": {gatetest.LotCode + " 9999"}})
	require.Contains(t, body, "rder PO 88 of MARKET-HALL has 240 jars of label CLOVER-1LB-1 left to ship, 9,759 more cannot leave for it")
	w.House.Refuse(&inventoryv1.BuildPalletRequest{}, apierr.Field("lines", "has too few entries, must have at least 1"))
	_, body = send(t, warehouse, w.URL+"/pallets/new", url.Values{"lines": {""}})
	require.Contains(t, body, "“Lots” is missing.")
	w.House.Refuse(&inventoryv1.AllowHeatRequest{}, apierr.Field("name", `is "heatStays/", must be heatStays/ and 1 to 40 capital letters, digits and dashes`))
	_, body = send(t, warehouse, w.URL+"/heat/allow", url.Values{"stay": {""}})
	require.Contains(t, body, "Name is missing.")
	answer, _ = send(t, warehouse, w.URL+"/shipments/new", url.Values{"order": {"orders/" + gatetest.SalesOrderID}, "carrier": {"Valley Freight"}, "lines": {gatetest.LotCode + " 240"}})
	require.Contains(t, answer.Header.Get("Location"), "/shipments?sent=")
	require.Equal(t, "orders/"+gatetest.SalesOrderID, last(t, w, &inventoryv1.ShipRequest{}).GetOrder())

	shipment := "shipments/5a100000-0000-4000-8000-000000000014"
	_, body = open(t, client, w.URL+"/sales?shipment="+shipment)
	require.Contains(t, body, "Invoice 2026-114")
	require.Contains(t, body, "Proceeds of the shipment to Market Hall Larder, ")
	_, body = open(t, client, w.URL+"/sales/new?shipment="+shipment)
	require.Contains(t, body, "What did the shipment to Market Hall Larder bring")
	require.Empty(t, w.House.Asked(&inventoryv1.ListShipmentsRequest{}), "a sale knows its customer, and a shipment can be asked for")
	answer, _ = send(t, client, w.URL+"/sales/new", url.Values{"shipment": {shipment}, "kind": {"EXPENSE"}, "amount": {"$1,085.50"}, "document": {"Freight 77"}, "entry_date": {"2026-10-15"}})
	require.Contains(t, answer.Header.Get("Location"), "/sales?shipment=")
	sale := last(t, w, &inventoryv1.RecordSaleRequest{})
	require.Equal(t, inventoryv1.SaleKind_SALE_KIND_EXPENSE, sale.GetKind())
	require.Equal(t, shipment, sale.GetShipment())
	require.Equal(t, "1085.50", sale.GetAmount().GetAmount(), "as it is printed")

	_, body = open(t, client, w.URL+"/pools/"+gatetest.PoolID+"/sales")
	require.Contains(t, body, "1 amount of the warehouse is on no account yet")
	require.Contains(t, body, "Of no open pool")
	answer, _ = send(t, client, w.URL+"/pools/"+gatetest.PoolID+"/sales", url.Values{})
	require.Equal(t, "/pools/"+gatetest.PoolID, answer.Header.Get("Location"))
	require.Equal(t, "pools/"+gatetest.PoolID, last(t, w, &settlementv1.BookSalesRequest{}).GetPool())
}
