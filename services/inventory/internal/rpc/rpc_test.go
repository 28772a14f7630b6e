package rpc_test

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
)

func TestAccessMatrix(t *testing.T) {
	t.Parallel()
	rpctest.Matrix(t, open(t).server.Gateway(), "barrelhead.inventory.v1.InventoryService")
}

func TestStockItemShowsTheBarrelAndNotItsOwner(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	got, err := h.as("wh1", warehouse).GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, "FC-00001", got.GetDrumTag())
	require.Equal(t, "640.0", got.GetNet().GetValue())
	require.Equal(t, "LB", got.GetNet().GetUnit())
	require.Equal(t, "DOCK", got.GetLocation())
	require.Equal(t, "17.4", got.GetMoisturePercent())
	require.Equal(t, "30.0", got.GetPfundMm())
	require.Equal(t, "WHITE", got.GetColorClass())
	require.Equal(t, inventoryv1.StockState_STOCK_STATE_ON_HAND, got.GetState())
	require.Equal(t, "2026-09-14", got.GetReceiveDate())
	require.NotContains(t, got.String(), "M-0007")
	require.NotContains(t, got.String(), "S00001", "the blind code stays inside")

	_, err = h.as("wh1", warehouse).GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(2)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": item(2)})
	_, err = h.as("wh1", warehouse).GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: "barrels/7"})
	rpctest.Faults(t, err, "name")
}

func TestMoveIsRecordedOnceHoweverOftenItIsSent(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	wh := h.as("wh1", warehouse)
	req := &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: "FC-B2-R1-L1"}
	answers := make([]*inventoryv1.StockItem, 10)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() {
			var err error
			answers[i], err = wh.MoveBarrel(context.Background(), req)
			require.NoError(t, err)
		})
	}
	wg.Wait()
	for _, a := range answers {
		require.True(t, proto.Equal(answers[0], a))
	}
	require.Equal(t, "FC-B2-R1-L1", answers[0].GetLocation())
	require.Equal(t, 1, h.events("BarrelMoved"))

	changed := proto.CloneOf(req)
	changed.Location = "FC-B2-R1-L2"
	_, err := wh.MoveBarrel(t.Context(), changed)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)

	read, err := wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(1)})
	require.NoError(t, err)
	require.True(t, proto.Equal(read, answers[0]), "what is answered is what is read later")
}

func TestMoveAsksForTheItemTheCallerRead(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	wh := h.as("wh1", warehouse)
	before, err := wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(1)})
	require.NoError(t, err)
	after, err := wh.MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: "B1", Etag: before.GetEtag()})
	require.NoError(t, err)
	_, err = wh.MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: "B2", Etag: before.GetEtag()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ETAG_MISMATCH, map[string]string{"resource": item(1), "etag": after.GetEtag()})
}

func TestShapesAreRefusedAllAtOnce(t *testing.T) {
	t.Parallel()
	h := open(t)
	_, err := h.as("wh1", warehouse).MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: "x", Name: item(1), Location: "bay 2"})
	rpctest.Faults(t, err, "request_id", "location")
	_, err = h.as("wh1", warehouse).PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{RequestId: request(), StockItem: item(1), Reason: "x"})
	rpctest.Faults(t, err, "code", "reason")
	_, err = h.as("wh1", warehouse).PlaceHold(t.Context(), &inventoryv1.PlaceHoldRequest{
		RequestId: request(), StockItem: item(1), Reason: "smells", Code: inventoryv1.HoldCode_HOLD_CODE_QUALITY,
	})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": item(1)})
	_, err = h.as("wh1", warehouse).ListStock(t.Context(), &inventoryv1.ListStockRequest{PageSize: -1})
	rpctest.Faults(t, err, "page_size")
}

func TestHoldIsEnforcedUntilAnotherPersonReleasesIt(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	wh, lead := h.as("wh1", warehouse), h.as("lead1", labLead)
	placed := h.hold(lead, 1, inventoryv1.HoldCode_HOLD_CODE_RESIDUE)
	require.Equal(t, "users/lead1", placed.GetPlacer())

	move := &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: "B1"}
	_, err := wh.MoveBarrel(t.Context(), move)
	got := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, map[string]string{"hold": placed.GetName(), "code": "RESIDUE"})
	require.Contains(t, got.Message, "screen pending")

	_, err = lead.ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: placed.GetName(), Reason: "negative"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/lead1"})
	h.clock.Advance(time.Hour)
	released, err := h.as("office1", office).ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: placed.GetName(), Reason: "negative"})
	require.NoError(t, err)
	require.Equal(t, "users/office1", released.GetReleaser())
	require.Equal(t, "negative", released.GetReleaseReason())
	_, err = h.as("office2", office).ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: placed.GetName(), Reason: "again"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASED"})

	_, err = wh.MoveBarrel(t.Context(), move)
	require.NoError(t, err, "the request that failed may be sent again")
	require.Equal(t, []int{1, 1, 1}, []int{h.events("HoldPlaced"), h.events("HoldReleased"), h.events("BarrelMoved")})
	unknown := "holds/" + uuid.NewString()
	_, err = h.as("office1", office).ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: unknown, Reason: "none"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": unknown})
}

func TestAWithdrawnBarrelNeitherMovesNorCounts(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	d := fixture.Delivery{Number: 1}
	fixture.Apply(t, h.db, &intakev1.TicketVoided{Ticket: d.Ticket()})
	wh := h.as("wh1", warehouse)
	_, err := wh.MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: "B1"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": item(1), "state": "WITHDRAWN"})
	list, err := wh.ListStock(t.Context(), &inventoryv1.ListStockRequest{})
	require.NoError(t, err)
	require.Empty(t, list.GetStockItems())
	totals, err := wh.SummarizeStock(t.Context(), &inventoryv1.SummarizeStockRequest{})
	require.NoError(t, err)
	require.Empty(t, totals.GetTotals())
	got, err := wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, inventoryv1.StockState_STOCK_STATE_WITHDRAWN, got.GetState())
}

func TestManyHandsNeverMoveAHeldBarrel(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	wh, lead := h.as("wh1", warehouse), h.as("lead1", labLead)
	moved := make(chan struct{}, 64*20)
	var wg sync.WaitGroup
	for worker := range 32 {
		wg.Go(func() {
			for n := range 20 {
				_, err := wh.MoveBarrel(context.Background(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(1), Location: fmt.Sprintf("B%d-%d", worker, n)})
				if err != nil {
					require.Equal(t, "ON_HOLD", apierr.Parse(err).Reason, err)
					return
				}
				moved <- struct{}{}
			}
		})
	}
	for range 40 {
		<-moved
	}
	h.hold(lead, 1, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	atHold := h.events("BarrelMoved")
	wg.Wait()
	require.Equal(t, atHold, h.events("BarrelMoved"), "no move is committed after the hold")
	require.GreaterOrEqual(t, atHold, 40)
	history, err := wh.ListMovements(t.Context(), &inventoryv1.ListMovementsRequest{StockItem: item(1), PageSize: 1000})
	require.NoError(t, err)
	require.Len(t, history.GetMovements(), atHold)
	at := "DOCK"
	for _, m := range history.GetMovements() {
		require.Equal(t, at, m.GetFromLocation(), "moves form one chain")
		at = m.GetToLocation()
	}
}

func TestListStockPagesByFilterWithoutRepeatOrGap(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 7)
	h.deliver(100, 5)
	wh := h.as("wh1", warehouse)
	var names []string
	req := &inventoryv1.ListStockRequest{PageSize: 5, ColorClass: "WHITE", Grade: "A", Variety: "clover", CropYear: 2026, Location: "DOCK"}
	for {
		page, err := wh.ListStock(t.Context(), req)
		require.NoError(t, err)
		for _, i := range page.GetStockItems() {
			names = append(names, i.GetName())
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			break
		}
		stolen := proto.CloneOf(req)
		stolen.Variety = "buckwheat"
		_, err = wh.ListStock(t.Context(), stolen)
		rpctest.Faults(t, err, "page_token")
	}
	require.Len(t, names, 12)
	seen := map[string]bool{}
	for _, n := range names {
		require.False(t, seen[n], n)
		seen[n] = true
	}
	h.hold(wh, 3, inventoryv1.HoldCode_HOLD_CODE_CUSTOMER)
	held, err := wh.ListStock(t.Context(), &inventoryv1.ListStockRequest{HeldOnly: true})
	require.NoError(t, err)
	require.Len(t, held.GetStockItems(), 1)
	require.Equal(t, item(3), held.GetStockItems()[0].GetName())
	for _, none := range []*inventoryv1.ListStockRequest{
		{Variety: "buckwheat"}, {CropYear: 2025}, {ColorClass: "AMBER"}, {Grade: "B"}, {Location: "B1"},
	} {
		empty, err := wh.ListStock(t.Context(), none)
		require.NoError(t, err)
		require.Empty(t, empty.GetStockItems(), none)
	}
}

func TestListStock_TakesNamesAndTagsWhateverBecameOfTheBarrels(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.fill(f.charge("T1", "0").GetName(), 2)
	made, err := f.wh.SplitBarrel(t.Context(), &inventoryv1.SplitBarrelRequest{RequestId: request(), Name: item(1), Parts: []*inventoryv1.SplitPart{{DrumTag: "PAIL-1", Net: lb("60.0")}}})
	require.NoError(t, err)
	names := func(req *inventoryv1.ListStockRequest) (out []string) {
		found, err := f.wh.ListStock(t.Context(), req)
		require.NoError(t, err)
		for _, i := range found.GetStockItems() {
			out = append(out, i.GetName())
		}
		return out
	}
	require.NotContains(t, names(&inventoryv1.ListStockRequest{}), item(2), "it is empty")
	require.ElementsMatch(t, []string{item(2), item(3)}, names(&inventoryv1.ListStockRequest{StockItems: []string{item(2), item(3)}}))
	require.ElementsMatch(t, []string{item(2), made.GetStockItems()[0]}, names(&inventoryv1.ListStockRequest{DrumTags: []string{"PAIL-1", "FC-00002", "FC-99999"}}))
	require.Empty(t, names(&inventoryv1.ListStockRequest{StockItems: []string{item(1)}, DrumTags: []string{"FC-00002"}}), "both at once")
	_, err = f.wh.ListStock(t.Context(), &inventoryv1.ListStockRequest{StockItems: []string{item(1), "barrels/1"}})
	rpctest.Faults(t, err, "stock_items[1]")
}

func TestSummarizeStockIsExact(t *testing.T) {
	t.Parallel()
	h := open(t)
	a := fixture.Delivery{Number: 1, Member: "members/M-0001", CropYear: 2026, Date: "2026-09-14", Declared: true, Barrels: []fixture.Barrel{
		{Number: 1, Net: "640.125", Variety: "clover"}, {Number: 2, Net: "0.375", Variety: "clover"}, {Number: 3, Net: "612.5", Variety: "buckwheat"},
	}}
	b := fixture.Delivery{Number: 2, Member: "members/M-0002", CropYear: 2025, Date: "2026-09-13", Barrels: []fixture.Barrel{{Number: 4, Net: "655.001", Variety: "clover"}}}
	fixture.Apply(t, h.db, append(a.Events(), b.Events()...)...)
	fixture.Apply(t, h.db, fixture.Certified(a.Barrels[0], fixture.Grade{Number: 1, Grade: "A", ColorClass: "WHITE", Moisture: "17.4", Pfund: "30.0"}))
	fixture.Apply(t, h.db, fixture.Certified(a.Barrels[1], fixture.Grade{Number: 2, Grade: "A", ColorClass: "WHITE", Moisture: "17.0", Pfund: "33.0"}))
	got, err := h.as("board1", accessv1.Role_ROLE_BOARD).SummarizeStock(t.Context(), &inventoryv1.SummarizeStockRequest{})
	require.NoError(t, err)
	var lines []string
	for _, s := range got.GetTotals() {
		lines = append(lines, strings.TrimSpace(fmt.Sprintf("%s %d %s %s %d/%d %s", s.GetVariety(), s.GetCropYear(), s.GetColorClass(), s.GetGrade(), s.GetHeldBarrels(), s.GetBarrels(), s.GetNet().GetValue())))
	}
	require.Equal(t, []string{
		"buckwheat 2026   0/1 612.5",
		"clover 2025   1/1 655.001",
		"clover 2026 WHITE A 0/2 640.5",
	}, lines)
}

func TestListHoldsNewestFirst(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 3)
	wh := h.as("wh1", warehouse)
	var placed []string
	for n := 1; n <= 3; n++ {
		h.clock.Advance(time.Minute)
		placed = append([]string{h.hold(wh, n, inventoryv1.HoldCode_HOLD_CODE_FERMENTATION).GetName()}, placed...)
	}
	_, err := h.as("office1", office).ReleaseHold(t.Context(), &inventoryv1.ReleaseHoldRequest{RequestId: request(), Name: placed[1], Reason: "tasted, fine"})
	require.NoError(t, err)
	list := func(req *inventoryv1.ListHoldsRequest) (names []string) {
		for {
			page, err := h.as("line1", line).ListHolds(t.Context(), req)
			require.NoError(t, err)
			for _, hold := range page.GetHolds() {
				names = append(names, hold.GetName())
			}
			if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
				return names
			}
		}
	}
	require.Equal(t, placed, list(&inventoryv1.ListHoldsRequest{PageSize: 2}))
	require.Equal(t, []string{placed[0], placed[2]}, list(&inventoryv1.ListHoldsRequest{PageSize: 1, OpenOnly: true}))
}
