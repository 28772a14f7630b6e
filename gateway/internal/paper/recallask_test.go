package paper_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestARecallPackIsOneQuestion(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	auditor := client{t, w.URL, w.Token("auditor1")}
	auditor.get("/v1/stock/"+gatetest.StockID+"/recall.pdf", "application/pdf")
	require.Len(t, w.House.Asked(&inventoryv1.TraceRequest{}), 1)
	require.Empty(t, w.House.Asked(&inventoryv1.GetStockItemRequest{}), "what people know the barrels by came with the answer")
	require.Empty(t, w.House.Asked(&inventoryv1.GetPackLotRequest{}))
	require.Empty(t, w.House.Asked(&inventoryv1.GetChargeRequest{}))
}
