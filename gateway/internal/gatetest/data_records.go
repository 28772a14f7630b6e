package gatetest

import (
	"context"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// DrillID is a mock recall that is running.
const DrillID = "d4111000-0000-4000-8000-000000000001"

func drills() []*inventoryv1.RecallDrill {
	return []*inventoryv1.RecallDrill{
		{
			Name: "recallDrills/" + DrillID, Subject: "packLots/" + LotID, Total: lb("1283.5"), AccountedPercent: "100.0", Barrels: 2, Members: 2, Shipments: 1,
			Recounted: true, TraceMilliseconds: 13, Starter: "users/lead1", StartTime: at(time.Hour),
		},
		{
			Name: "recallDrills/d4111000-0000-4000-8000-000000000002", Subject: "stock/" + StockID, Total: lb("640.0"), AccountedPercent: "100.0", Barrels: 1, Members: 1, Shipments: 2,
			Recounted: true, TraceMilliseconds: 9, Starter: "users/lead1", StartTime: at(900 * time.Hour), Finisher: "users/lead1", FinishTime: at(899 * time.Hour), ElapsedSeconds: 2820,
			Found: lb("633.6"), FoundPercent: "99.0", Contacts: "Market Hall Larder by telephone", Note: "one case was in the window",
		},
	}
}

func (h *House) ListRecallDrills(ctx context.Context, r *inventoryv1.ListRecallDrillsRequest) (*inventoryv1.ListRecallDrillsResponse, error) {
	return &inventoryv1.ListRecallDrillsResponse{Drills: drills()}, h.note(ctx, r)
}

func (h *House) StartRecallDrill(ctx context.Context, r *inventoryv1.StartRecallDrillRequest) (*inventoryv1.RecallDrill, error) {
	return drills()[0], h.note(ctx, r)
}

func (h *House) FinishRecallDrill(ctx context.Context, r *inventoryv1.FinishRecallDrillRequest) (*inventoryv1.RecallDrill, error) {
	return drills()[1], h.note(ctx, r)
}

func counts() []*inventoryv1.CycleCount {
	return []*inventoryv1.CycleCount{{
		Name: "cycleCounts/c0000000-0000-4000-8000-000000000001", Location: "FC-B2-R1", Matched: []string{"FC-00431", "FC-00442"}, Missing: []string{"FC-00433"},
		Misplaced: []*inventoryv1.MisplacedDrum{{DrumTag: "FC-00427", StockItem: "stock/" + StockID, BookedLocation: "DOCK"}}, Unknown: []string{"FC-99999"},
		Counter: "users/warehouse1", CountTime: at(time.Hour),
	}}
}

func (h *House) ListCycleCounts(ctx context.Context, r *inventoryv1.ListCycleCountsRequest) (*inventoryv1.ListCycleCountsResponse, error) {
	return &inventoryv1.ListCycleCountsResponse{Counts: counts()}, h.note(ctx, r)
}

func (h *House) RecordCycleCount(ctx context.Context, r *inventoryv1.RecordCycleCountRequest) (*inventoryv1.CycleCount, error) {
	return counts()[0], h.note(ctx, r)
}

func (h *House) ListTemperatures(ctx context.Context, r *inventoryv1.ListTemperaturesRequest) (*inventoryv1.ListTemperaturesResponse, error) {
	log := &inventoryv1.TemperatureLog{
		Stay: "heatStays/HR1-260914", Probe: "P1", LimitCelsius: "62.8", Opener: "users/warehouse1", SecondPerson: allowance.GetAllower(), SecondReason: allowance.GetReason(),
		Allowances: []*inventoryv1.HeatAllowance{allowance},
	}
	for i, c := range []string{"21.5", "28.0", "34.4", "39.1", "41.0", "41.2", "40.8", "41.1", "38.0", "31.5"} {
		log.Readings = append(log.Readings, &inventoryv1.TemperatureReading{Time: at(time.Duration(40-i) * time.Hour), Celsius: c})
	}
	return &inventoryv1.ListTemperaturesResponse{Logs: []*inventoryv1.TemperatureLog{log}}, h.note(ctx, r)
}

var allowance = &inventoryv1.HeatAllowance{
	Name: "heatAllowances/1", Stay: "heatStays/HR1-260914", LimitCelsius: "65.0", Reason: "yeast count high: 30 minutes at 62.8 °C", Allower: "users/line1", AllowTime: at(50 * time.Hour),
}

// ListHeatAllowances knows of one.
func (h *House) ListHeatAllowances(ctx context.Context, r *inventoryv1.ListHeatAllowancesRequest) (*inventoryv1.ListHeatAllowancesResponse, error) {
	return &inventoryv1.ListHeatAllowancesResponse{Allowances: []*inventoryv1.HeatAllowance{allowance}}, h.note(ctx, r)
}

// AllowHeat takes the word of whoever gives it.
func (h *House) AllowHeat(ctx context.Context, r *inventoryv1.AllowHeatRequest) (*inventoryv1.HeatAllowance, error) {
	return &inventoryv1.HeatAllowance{Name: "heatAllowances/2", Stay: r.GetName(), LimitCelsius: r.GetLimitCelsius(), Reason: r.GetReason()}, h.note(ctx, r)
}

func (h *House) GetHeat(ctx context.Context, r *inventoryv1.GetHeatRequest) (*inventoryv1.Heat, error) {
	return &inventoryv1.Heat{
		Name: r.GetName(), UsedPercent: "61.5", CarriedPercent: "22.45", WarmestCelsius: "41.2", Unknown: true, UnknownSources: []string{"stock/" + StockID},
		Alarms: []*inventoryv1.HeatAlarm{{
			Kind: inventoryv1.HeatAlarmKind_HEAT_ALARM_KIND_GAP, Stay: "heatStays/HR1-260914", Probe: "P1", FromTime: at(40 * time.Hour), ToTime: at(39 * time.Hour),
			Sentence: "probe P1 was not read for 1h0m0s; at most 30m0s are allowed",
		}},
	}, h.note(ctx, r)
}

// ListTraceEvents answers one of each kind, in pages of three.
func (h *House) ListTraceEvents(ctx context.Context, r *inventoryv1.ListTraceEventsRequest) (*inventoryv1.ListTraceEventsResponse, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetFromDate() > r.GetThroughDate() {
		return nil, apierr.Field("through_date", r.GetThroughDate()+" is before "+r.GetFromDate())
	}
	if r.GetPageToken() == "" {
		return &inventoryv1.ListTraceEventsResponse{Events: traceEvents()[:3], NextPageToken: "rest"}, nil
	}
	return &inventoryv1.ListTraceEventsResponse{Events: traceEvents()[3:]}, nil
}

func traceEvents() []*inventoryv1.TraceEvent {
	when := func(hours int) *timestamppb.Timestamp { return at(time.Duration(60-hours) * time.Hour) }
	charge, lot, market := "charges/"+ChargeID, "packLots/"+LotID, "shipments/5a100000-0000-4000-8000-000000000014"
	id := func(kind, n string) string { return kind + "/7a000000-0000-4000-8000-00000000000" + n }
	return []*inventoryv1.TraceEvent{
		{Name: id("movements", "1"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_MOVED, Time: when(1), From: "DOCK", To: "FC-B2-R1", Subject: "stock/" + StockID},
		{Name: id("transfers", "2"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TRANSFERRED, Time: when(2), From: "stock/" + StockID, To: charge, Mass: lb("640.0"), ChargeCodes: []string{ChargeCode}},
		{Name: id("transfers", "3"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TRANSFERRED, Time: when(3), From: charge, To: lot, Mass: lb("628.0"), ChargeCodes: []string{ChargeCode}},
		{Name: id("transfers", "4"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_LOST, Time: when(4), From: charge, To: "losses/FILTER", Mass: lb("12.0"), ChargeCodes: []string{ChargeCode}},
		{Name: lot, Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PACKED, Time: when(5), Subject: lot, Mass: lb("628.0"), Jars: 628, LotCode: LotCode, Gtin: "04012345678901"},
		{
			Name: id("transfers", "6"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_SHIPPED, Time: when(6), From: lot, To: "shipments/5a100000-0000-4000-8000-000000000014",
			Mass: lb("600.0"), Customer: "Market Hall Larder",
		},
		{Name: id("palletLines", "7"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLETISED, Time: when(7), From: lot, Subject: "pallets/" + PalletID, Jars: 28, LotCode: LotCode, Sscc: SSCC},
		{Name: id("palletBreaks", "7"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_TAKEN_APART, Time: when(8), To: lot, Subject: "pallets/" + PalletID, Jars: 28, LotCode: LotCode, Sscc: SSCC},
		{
			Name: "shipmentPallets/" + PalletID, Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_PALLET_SHIPPED, Time: when(9), Subject: "pallets/" + PalletID,
			To: "shipments/5a100000-0000-4000-8000-000000000014", Customer: "Market Hall Larder",
		},
		{
			Name: id("transfers", "8"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_LOST, Time: when(10), From: lot, To: "losses/BROKEN", Mass: lb("3.0"), Jars: 3,
			LotCode: LotCode, Gtin: "04012345678901",
		},
		{
			Name: "receipts/" + StockID, Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RECEIVED, Time: when(0), Subject: "stock/" + StockID, Mass: lb("640.0"),
			Ticket: "tickets/" + CloseTicketID,
		},
		{Name: id("holds", "9"), Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_HELD, Time: when(11), Subject: "stock/" + StockID, HoldCode: inventoryv1.HoldCode_HOLD_CODE_RESIDUE},
		{
			Name: "holdReleases/7a000000-0000-4000-8000-000000000009", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RELEASED, Time: when(12), Subject: "stock/" + StockID,
			HoldCode: inventoryv1.HoldCode_HOLD_CODE_RESIDUE,
		},
		{
			Name: "holds/7a000000-0000-4000-8000-000000000010", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_HELD, Time: when(13), Subject: lot,
			HoldCode: inventoryv1.HoldCode_HOLD_CODE_RECALL, LotCode: LotCode, Gtin: "04012345678901",
		},
		{
			Name: "holdReleases/7a000000-0000-4000-8000-000000000010", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RELEASED, Time: when(14), Subject: lot,
			HoldCode: inventoryv1.HoldCode_HOLD_CODE_RECALL, StillHeld: true, LotCode: LotCode, Gtin: "04012345678901",
		},
		{
			Name: "transfers/7a000000-0000-4000-8000-000000000011", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RETURNED, Time: when(15), From: market,
			To: "returns/" + ReturnID, Subject: "returns/" + ReturnID, Mass: lb("140.0"), Jars: 140, LotCode: LotCode, Gtin: "04012345678901", Customer: "Market Hall Larder",
		},
		{
			Name: "transfers/7a000000-0000-4000-8000-000000000012", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RESTOCKED, Time: when(16), From: "returns/" + ReturnID,
			To: lot, Subject: "returns/" + ReturnID, Mass: lb("100.0"), Jars: 100, LotCode: LotCode, Gtin: "04012345678901", Customer: "Market Hall Larder",
		},
		{
			Name: "transfers/7a000000-0000-4000-8000-000000000013", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_LOST, Time: when(17), From: "returns/" + ReturnID,
			To: "losses/DESTROYED", Subject: "returns/" + ReturnID, Mass: lb("40.0"), Jars: 40, LotCode: LotCode, Gtin: "04012345678901", Customer: "Market Hall Larder",
		},
		{
			Name: "transfers/7a000000-0000-4000-8000-000000000014", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RETURNED, Time: when(18), From: market,
			To: "returns/" + BulkReturnID, Subject: "returns/" + BulkReturnID, Mass: lb("80.0"), Customer: "Market Hall Larder",
		},
		{
			Name: "transfers/7a000000-0000-4000-8000-000000000015", Kind: inventoryv1.TraceEventKind_TRACE_EVENT_KIND_RESTOCKED, Time: when(19), From: "returns/" + BulkReturnID,
			To: charge, Subject: "returns/" + BulkReturnID, Mass: lb("80.0"), Customer: "Market Hall Larder",
		},
	}
}
