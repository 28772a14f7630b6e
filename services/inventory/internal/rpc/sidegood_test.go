package rpc_test

import (
	"context"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/rpctest"
)

func TestCombAndWaxHaveBooksAndUnitsOfTheirOwn(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	before := f.balanced()
	wh, office := f.records("wh1", warehouse), f.records("office1", office)
	record := func(change func(*inventoryv1.RecordSideEntryRequest)) error {
		req := &inventoryv1.RecordSideEntryRequest{RequestId: request(), Good: inventoryv1.SideGood_SIDE_GOOD_COMB_SECTION, Move: inventoryv1.SideMove_SIDE_MOVE_RECEIVED, Pieces: 48, CropYear: 2026, Member: "members/M-0001", Note: "frozen three days against moth"}
		change(req)
		_, err := wh.RecordSideEntry(t.Context(), req)
		return err
	}
	sold := func(pieces int64) func(*inventoryv1.RecordSideEntryRequest) {
		return func(r *inventoryv1.RecordSideEntryRequest) {
			r.Move, r.Member, r.Customer, r.Pieces = inventoryv1.SideMove_SIDE_MOVE_SOLD, "", "North Mill Bakery", pieces
		}
	}
	require.NoError(t, record(func(*inventoryv1.RecordSideEntryRequest) {}), "no moisture is asked for")
	require.NoError(t, record(func(r *inventoryv1.RecordSideEntryRequest) {
		r.Good, r.Pieces, r.Mass = inventoryv1.SideGood_SIDE_GOOD_BEESWAX, 0, lb("31.5")
	}))
	rpctest.Faults(t, record(func(r *inventoryv1.RecordSideEntryRequest) {
		r.Good, r.Member = inventoryv1.SideGood_SIDE_GOOD_CAPPINGS, ""
	}), "member", "pieces")
	rpctest.RefusedAs(t, record(sold(49)), errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1"})

	// Four people sell 20 of the 48 at once: two of them can.
	var wg sync.WaitGroup
	errs := make([]error, 4)
	for i := range errs {
		wg.Go(func() { errs[i] = record(sold(20)) })
	}
	wg.Wait()
	refused := 0
	for _, err := range errs {
		if err != nil {
			rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, nil)
			refused++
		}
	}
	require.Equal(t, 2, refused)

	stocks, err := wh.SummarizeSideGoods(t.Context(), &inventoryv1.SummarizeSideGoodsRequest{})
	require.NoError(t, err)
	require.Len(t, stocks.GetStocks(), 2)
	require.Equal(t, "31.5", stocks.GetStocks()[0].GetMass().GetValue())
	require.Zero(t, stocks.GetStocks()[0].GetPieces())
	require.EqualValues(t, 8, stocks.GetStocks()[1].GetPieces())
	require.Nil(t, stocks.GetStocks()[1].GetMass())
	require.Equal(t, before.GetReceived().GetValue(), f.balanced().GetReceived().GetValue(), "liquid honey is another matter")

	members := map[string]int{}
	for _, c := range []inventoryv1.WarehouseRecordsServiceClient{wh, office} {
		req := &inventoryv1.ListSideEntriesRequest{PageSize: 3}
		for range 2 {
			list, err := c.ListSideEntries(context.Background(), req)
			require.NoError(t, err)
			for _, e := range list.GetEntries() {
				members[e.GetMember()]++
			}
			req.PageToken = list.GetNextPageToken()
		}
	}
	require.Equal(t, map[string]int{"": 6, "members/M-0001": 2}, members, "the warehouse is not told whose it was")
	_, err = f.records("lab1", accessv1.Role_ROLE_LAB).ListSideEntries(t.Context(), &inventoryv1.ListSideEntriesRequest{})
	require.Error(t, err)
}
