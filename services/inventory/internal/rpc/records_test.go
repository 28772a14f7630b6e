package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/rpctest"
)

func (h *house) records(login string, roles ...accessv1.Role) inventoryv1.WarehouseRecordsServiceClient {
	return inventoryv1.NewWarehouseRecordsServiceClient(h.server.As(rpctest.Person(login, roles...)))
}

func TestALabelIsApprovedByAnotherPersonAndOnlyWithWhatMustBePrinted(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	enter := func(id string, face *inventoryv1.LabelFace) error {
		_, err := f.office.CreateLabel(t.Context(), &inventoryv1.CreateLabelRequest{RequestId: request(), LabelId: id, Title: "Clover 1 lb", Face: face})
		return err
	}
	approve := func(c inventoryv1.InventoryServiceClient, id string) error {
		_, err := c.ApproveLabel(t.Context(), &inventoryv1.ApproveLabelRequest{RequestId: request(), Name: "labels/" + id, Evidence: "proof sheet"})
		return err
	}
	start := func(id string) error {
		_, err := f.line.StartPackLot(t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: c.GetName(), Label: "labels/" + id, Line: "L1"})
		return err
	}
	bad := face()
	bad.Gtin, bad.NetGrams, bad.Claims = "04012345678902", "455", []inventoryv1.LabelClaim{inventoryv1.LabelClaim_LABEL_CLAIM_RAW, inventoryv1.LabelClaim_LABEL_CLAIM_FLORAL_SOURCE}
	rpctest.Faults(t, enter("BAD", bad), "face.gtin", "face.max_celsius", "face.net_grams", "rules.variety")
	for id, break1 := range map[string]func(*inventoryv1.LabelFace){
		"WITHOUT_INFANT_CAUTION": func(f *inventoryv1.LabelFace) { f.InfantCaution = false },
		"WITHOUT_NET_CONTENT":    func(f *inventoryv1.LabelFace) { f.NetOunces, f.NetGrams = "", "" },
		"WITHOUT_ORIGIN":         func(f *inventoryv1.LabelFace) { f.Origin = "" },
	} {
		one := face()
		break1(one)
		label := "L-" + id[len("WITHOUT_"):][:3]
		require.NoError(t, enter(label, one))
		rpctest.RefusedAs(t, approve(f.as("lead1", labLead), label), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": id})
	}
	good := face()
	good.Gtin, good.Claims, good.MaxCelsius = "04012345678901", []inventoryv1.LabelClaim{inventoryv1.LabelClaim_LABEL_CLAIM_RAW}, "45"
	require.NoError(t, enter("RAW-1", good))
	rpctest.RefusedAs(t, start("RAW-1"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_APPROVED"})
	rpctest.RefusedAs(t, approve(f.office, "RAW-1"), errorv1.Reason_REASON_SAME_PERSON, nil)
	require.NoError(t, approve(f.as("lead1", labLead), "RAW-1"))
	rpctest.RefusedAs(t, approve(f.as("lead1", labLead), "RAW-1"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "APPROVED"})
	require.NoError(t, start("RAW-1"))

	_, err := f.wh.RecordTemperatures(t.Context(), warm("HR-1", 0, 1, []string{item(3)}, "45.1"))
	require.NoError(t, err)
	f.fill(c.GetName(), 3)
	refused := rpctest.RefusedAs(t, start("RAW-1"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "TOO_WARM"})
	require.Contains(t, refused.Message, "45.1")
	rpctest.RefusedAs(t, start("HONEY"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_CLEARED"})
	f.clear("L1")
	require.NoError(t, start("HONEY"))
}

func TestHeatOfTheBarrelsIsCarriedIntoTheChargeAndOn(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.clock.Advance(30 * 24 * time.Hour)
	heat := func(name string) *inventoryv1.Heat {
		h, err := f.office.GetHeat(t.Context(), &inventoryv1.GetHeatRequest{Name: name})
		require.NoError(t, err)
		return h
	}
	_, err := f.wh.RecordTemperatures(t.Context(), warm("A", 0, 60, []string{item(1)}, "50", "49.9"))
	require.NoError(t, err)
	require.Equal(t, "44.9", heat(item(1)).GetUsedPercent())
	one := f.charge("T1", "0").GetName()
	f.fill(one, 1, 3)
	require.Equal(t, "22.45", heat(one).GetCarriedPercent(), "half the honey was warmed")
	_, err = f.wh.RecordTemperatures(t.Context(), warm("B", 100, 60, []string{one}, "50", "49.9"))
	require.NoError(t, err)
	require.Equal(t, "67.35", heat(one).GetUsedPercent())
	require.Equal(t, "50.0", heat(one).GetWarmestCelsius())
	two := f.charge("T2", "0").GetName()
	_, err = f.wh.TransferCharge(t.Context(), &inventoryv1.TransferChargeRequest{RequestId: request(), Name: one, ToCharge: two, Mass: lb("640.0")})
	require.NoError(t, err)
	require.Equal(t, "67.35", heat(two).GetUsedPercent())
	_, err = f.wh.TransferCharge(t.Context(), &inventoryv1.TransferChargeRequest{RequestId: request(), Name: two, ToCharge: one, Mass: lb("10.0")})
	require.NoError(t, err)
	require.NotEmpty(t, heat(one).GetUsedPercent(), "a circle ends")

	_, err = f.wh.RecordTemperatures(t.Context(), warm("C", 200, 13, []string{item(1), two}, "44"))
	require.NoError(t, err)
	require.True(t, heat(one).GetUnknown(), "what is not known of the barrel is not known of the charge")
	require.Contains(t, heat(one).GetUnknownSources(), item(1))
	held := f.openHolds()
	require.Contains(t, held, two, "its own log has a hole")
	require.Contains(t, held, one, "made of the barrel")
	logs, err := f.records("wh1", warehouse).ListTemperatures(t.Context(), &inventoryv1.ListTemperaturesRequest{Name: two})
	require.NoError(t, err)
	require.Len(t, logs.GetLogs(), 1)
	require.Len(t, logs.GetLogs()[0].GetReadings(), 52)
}

func TestBulkHoneyIsSoldInBarrelsAndOutOfATank(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0").GetName()
	f.fill(c, 3)
	ship := func(lines ...*inventoryv1.BulkLine) (*inventoryv1.Shipment, error) {
		return f.wh.Ship(t.Context(), &inventoryv1.ShipRequest{RequestId: request(), Customer: "North Mill Bakery", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", BulkLines: lines})
	}
	_, err := ship()
	rpctest.Faults(t, err, "lines")
	_, err = ship(&inventoryv1.BulkLine{Place: c})
	rpctest.Faults(t, err, "bulk_lines.containers")
	_, err = ship(&inventoryv1.BulkLine{Place: item(1), Mass: lb("640.1")})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "0.1"})
	sold, err := ship(&inventoryv1.BulkLine{Place: item(1)}, &inventoryv1.BulkLine{Place: c, Mass: lb("600.0"), Containers: "TOTE-7, seal 4411"})
	require.NoError(t, err)
	require.Equal(t, "640.0", sold.GetBulkLines()[0].GetMass().GetValue())
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: sold.GetName()})
	require.NoError(t, err)
	require.Equal(t, "1240.0", trace.GetTotal().GetValue())
	require.Len(t, trace.GetSources(), 2, "one step up")
	down, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: item(1)})
	require.NoError(t, err)
	require.Equal(t, "North Mill Bakery", down.GetCustomers()[0].GetCustomer(), "one step down")
	require.Equal(t, "1240.0", f.balanced().GetShipped().GetValue())
	f.hold(f.wh, 5, inventoryv1.HoldCode_HOLD_CODE_RESIDUE)
	_, err = ship(&inventoryv1.BulkLine{Place: item(5)})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ON_HOLD, nil)
	list, err := f.wh.ListShipments(t.Context(), &inventoryv1.ListShipmentsRequest{})
	require.NoError(t, err)
	require.Equal(t, "TOTE-7, seal 4411", list.GetShipments()[0].GetBulkLines()[1].GetContainers())
}

func TestAMockRecallIsTimedAndKept(t *testing.T) {
	t.Parallel()
	f := makeOfBarrelOne(t)
	qa := f.records("lead1", labLead)
	d, err := qa.StartRecallDrill(t.Context(), &inventoryv1.StartRecallDrillRequest{RequestId: request(), Subject: item(1)})
	require.NoError(t, err)
	require.Equal(t, "640.0", d.GetTotal().GetValue())
	require.Equal(t, "100.0", d.GetAccountedPercent())
	require.True(t, d.GetRecounted(), "the records said the same")
	require.Equal(t, int32(1), d.GetShipments())
	f.clock.Advance(47 * time.Minute)
	finish := &inventoryv1.FinishRecallDrillRequest{RequestId: request(), Name: d.GetName(), Found: lb("633.6"), Contacts: "North Mill Bakery by telephone"}
	d, err = qa.FinishRecallDrill(t.Context(), finish)
	require.NoError(t, err)
	require.Equal(t, int64(47*60), d.GetElapsedSeconds())
	require.Equal(t, "99.0", d.GetFoundPercent())
	finish.RequestId = request()
	_, err = qa.FinishRecallDrill(t.Context(), finish)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "FINISHED"})
	list, err := qa.ListRecallDrills(t.Context(), &inventoryv1.ListRecallDrillsRequest{})
	require.NoError(t, err)
	require.Equal(t, d.GetName(), list.GetDrills()[0].GetName())
	require.Equal(t, 1, f.events("RecallDrillFinished"))
}

func TestACountComparesALocationWithTheBooks(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	for _, n := range []int{1, 3} {
		_, err := f.wh.MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(n), Location: "B1-R1"})
		require.NoError(t, err)
	}
	c, err := f.records("wh1", warehouse).RecordCycleCount(t.Context(), &inventoryv1.RecordCycleCountRequest{
		RequestId: request(), Location: "B1-R1", DrumTags: []string{"FC-00001", "FC-00005", "FC-99999", "FC-00001"},
	})
	require.NoError(t, err)
	require.Equal(t, []string{"FC-00001"}, c.GetMatched())
	require.Equal(t, []string{"FC-00003"}, c.GetMissing())
	require.Equal(t, []string{"FC-99999"}, c.GetUnknown())
	require.Equal(t, "DOCK", c.GetMisplaced()[0].GetBookedLocation())
	list, err := f.records("office1", office).ListCycleCounts(t.Context(), &inventoryv1.ListCycleCountsRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetCounts(), 1)
	require.Equal(t, c.GetMisplaced()[0].GetStockItem(), list.GetCounts()[0].GetMisplaced()[0].GetStockItem())
}

func TestWhatHappenedIsListedInOrderPageByPage(t *testing.T) {
	t.Parallel()
	f := makeOfBarrelOne(t)
	_, err := f.wh.MoveBarrel(t.Context(), &inventoryv1.MoveBarrelRequest{RequestId: request(), Name: item(5), Location: "B1-R1"})
	require.NoError(t, err)
	day := f.clock.Now().Format(time.DateOnly)
	all := map[inventoryv1.TraceEventKind]int{}
	req := &inventoryv1.ListTraceEventsRequest{FromDate: day, ThroughDate: day, PageSize: 3}
	var last *timestamppb.Timestamp
	for {
		page, err := f.records("aud1", accessv1.Role_ROLE_AUDITOR).ListTraceEvents(t.Context(), req)
		require.NoError(t, err)
		for _, e := range page.GetEvents() {
			all[e.GetKind()]++
			require.False(t, last != nil && e.GetTime().AsTime().Before(last.AsTime()))
			last = e.GetTime()
			if e.GetKind() == inventoryv1.TraceEventKind_TRACE_EVENT_KIND_SHIPPED {
				require.Equal(t, "North Mill Bakery", e.GetCustomer())
			}
		}
		if req.PageToken = page.GetNextPageToken(); req.GetPageToken() == "" {
			break
		}
	}
	require.Equal(t, map[inventoryv1.TraceEventKind]int{
		inventoryv1.TraceEventKind_TRACE_EVENT_KIND_MOVED: 1, inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TRANSFERRED: 7,
		inventoryv1.TraceEventKind_TRACE_EVENT_KIND_SHIPPED: 1, inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PACKED: 1,
	}, all)
	req = &inventoryv1.ListTraceEventsRequest{FromDate: "2026-09-32", ThroughDate: "2026-09-01"}
	_, err = f.records("aud1", accessv1.Role_ROLE_AUDITOR).ListTraceEvents(t.Context(), req)
	rpctest.Faults(t, err, "from_date")
	require.True(t, fixture.Start.Before(f.clock.Now()))
}
