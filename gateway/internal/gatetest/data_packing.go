package gatetest

import (
	"context"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// PalletID is a pallet in the house, and SSCC the code on it. HeldLotID is a run that was stopped, EmptiedID a barrel used up.
const (
	HeldLotID = "10700000-0000-4000-8000-000000000003"
	EmptiedID = "5d7e3a10-0000-4000-8000-000000000099"
	PalletID  = "9a11e700-0000-4000-8000-000000000001"
	SSCC      = "906141410000000015"
)

func heldLot() *inventoryv1.PackLot {
	return &inventoryv1.PackLot{
		Name: "packLots/" + HeldLotID, Code: "FC26257L3C", Label: "labels/CLOVER-1LB-3", Line: "L3", State: inventoryv1.LotState_LOT_STATE_OPEN, Content: lb("200.0"),
		Starter: "users/line1", StartTime: at(2 * time.Hour), Holds: []*inventoryv1.Hold{{
			Name: "holds/1", Place: "packLots/" + HeldLotID, Code: inventoryv1.HoldCode_HOLD_CODE_QUALITY, Reason: "run stopped: the average is below the label", Placer: "inventory", PlaceTime: at(time.Hour),
		}},
	}
}

func emptied() *inventoryv1.StockItem {
	return &inventoryv1.StockItem{
		Name: "stock/" + EmptiedID, DrumTag: "FC-04499", Net: lb("640.0"), Remaining: lb("0.0"), Variety: "clover", CropYear: 2026, Location: "FC-B1-R1-L1",
		State: inventoryv1.StockState_STOCK_STATE_EMPTIED, ReceiveDate: "2026-09-14",
	}
}

func pallet() *inventoryv1.Pallet {
	return &inventoryv1.Pallet{
		Name: "pallets/" + PalletID, Sscc: SSCC, Number: 1, State: inventoryv1.PalletState_PALLET_STATE_IN_HOUSE, Builder: "users/line1", BuildTime: at(2 * time.Hour),
		Lines: []*inventoryv1.PalletLine{{PackLot: "packLots/" + LotID, Jars: 240, LotCode: LotCode, Gtin: "04012345678901", BestByDate: BestBy}},
	}
}

// ListLineClearances and its neighbours answer for the line and its pallets.
func (h *House) ListLineClearances(ctx context.Context, r *inventoryv1.ListLineClearancesRequest) (*inventoryv1.ListLineClearancesResponse, error) {
	return &inventoryv1.ListLineClearancesResponse{Clearances: []*inventoryv1.LineClearance{{
		Name: "lineClearances/1", Line: "L1", AfterLotCode: LotCode, Cleaning: "flushed with 20 lb, booked as a loss", Clearer: "users/line1", ClearTime: at(3 * time.Hour),
	}}}, h.note(ctx, r)
}

func (h *House) RecordLineClearance(ctx context.Context, r *inventoryv1.RecordLineClearanceRequest) (*inventoryv1.LineClearance, error) {
	return &inventoryv1.LineClearance{Name: "lineClearances/1", Line: r.GetLine()}, h.note(ctx, r)
}

func lineCheck(stopped bool) *inventoryv1.LineCheck {
	c := &inventoryv1.LineCheck{
		Name: "lineChecks/1", PackLot: "packLots/" + RunningID, Unit: inventoryv1.NetUnit_NET_UNIT_G, Declared: "454.0", NetWeights: []string{"455.1", "454.6", "456.0", "455.2", "454.9"},
		Average: "455.16", Lowest: "454.6", MaxAllowableVariation: "20.0", Sentence: "keep going: average 455.16 g against 454.0 on the label", Checker: "users/line1", CheckTime: at(time.Hour),
	}
	if stopped {
		c.NetWeights, c.Average, c.Lowest, c.Stopped, c.Sentence = []string{"453.0"}, "453.0", "453.0", true, "the average is below the label: average 453.0 g against 454.0 on the label"
	}
	return c
}

func (h *House) ListLineChecks(ctx context.Context, r *inventoryv1.ListLineChecksRequest) (*inventoryv1.ListLineChecksResponse, error) {
	answer := &inventoryv1.ListLineChecksResponse{}
	if r.GetPackLot() == "packLots/"+RunningID {
		answer.Checks = []*inventoryv1.LineCheck{lineCheck(false), lineCheck(true)}
	}
	return answer, h.note(ctx, r)
}

func (h *House) CheckLine(ctx context.Context, r *inventoryv1.CheckLineRequest) (*inventoryv1.LineCheck, error) {
	return lineCheck(true), h.note(ctx, r)
}

func (h *House) ListPallets(ctx context.Context, r *inventoryv1.ListPalletsRequest) (*inventoryv1.ListPalletsResponse, error) {
	return &inventoryv1.ListPalletsResponse{Pallets: []*inventoryv1.Pallet{pallet()}}, h.note(ctx, r)
}

func (h *House) GetPallet(ctx context.Context, r *inventoryv1.GetPalletRequest) (*inventoryv1.Pallet, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetName() == "pallets/"+SSCC {
		return pallet(), nil
	}
	return find(ctx, []*inventoryv1.Pallet{pallet()}, r.GetName(), nil)
}

func (h *House) BuildPallet(ctx context.Context, r *inventoryv1.BuildPalletRequest) (*inventoryv1.Pallet, error) {
	return pallet(), h.note(ctx, r)
}

func (h *House) BreakPallet(ctx context.Context, r *inventoryv1.BreakPalletRequest) (*inventoryv1.Pallet, error) {
	return pallet(), h.note(ctx, r)
}

// ListBalances has one over its limit.
func (h *House) ListBalances(ctx context.Context, r *inventoryv1.ListBalancesRequest) (*inventoryv1.ListBalancesResponse, error) {
	return &inventoryv1.ListBalancesResponse{Balances: []*inventoryv1.Balance{{
		Name: "packLots/" + LotID, Title: LotCode, Opening: lb("0.0"), Received: lb("1280.0"), PassedOn: lb("0.0"), Packed: lb("1250.0"), Shipped: lb("0.0"), Closing: lb("0.0"),
		Losses:         []*inventoryv1.LossTotal{{Code: inventoryv1.LossCode_LOSS_CODE_FLUSH, Mass: lb("20.0")}, {Code: inventoryv1.LossCode_LOSS_CODE_UNEXPLAINED, Mass: lb("10.0")}},
		OpenDifference: lb("0.0"), Unexplained: lb("10.0"), AskedWriteOff: lb("3.0"), UnexplainedPercent: "0.78", LimitPercent: "0.5", OverLimit: true, YieldPercent: "97.66",
	}}}, h.note(ctx, r)
}

// RecordTemperatures knows of one alarm.
func (h *House) RecordTemperatures(ctx context.Context, r *inventoryv1.RecordTemperaturesRequest) (*inventoryv1.RecordTemperaturesResponse, error) {
	answer := &inventoryv1.RecordTemperaturesResponse{}
	for _, name := range r.GetWarmed() {
		answer.Heats = append(answer.Heats, &inventoryv1.Heat{Name: name, UsedPercent: "6.76", Alarms: []*inventoryv1.HeatAlarm{{Sentence: "probe P1 showed up to 50.7 °C"}}})
	}
	return answer, h.note(ctx, r)
}

// ListSideEntries and its neighbours answer for comb and wax.
func (h *House) ListSideEntries(ctx context.Context, r *inventoryv1.ListSideEntriesRequest) (*inventoryv1.ListSideEntriesResponse, error) {
	return &inventoryv1.ListSideEntriesResponse{Entries: []*inventoryv1.SideEntry{
		{Name: "sideEntries/2", Good: inventoryv1.SideGood_SIDE_GOOD_COMB_SECTION, Move: inventoryv1.SideMove_SIDE_MOVE_SOLD, Pieces: 20, CropYear: 2026, Customer: "Market Hall Larder", Recorder: "users/warehouse1", RecordTime: at(time.Hour)},
		{Name: "sideEntries/1", Good: inventoryv1.SideGood_SIDE_GOOD_BEESWAX, Move: inventoryv1.SideMove_SIDE_MOVE_MADE, Mass: lb("31.5"), CropYear: 2026, Recorder: "users/warehouse1", RecordTime: at(2 * time.Hour)},
	}}, h.note(ctx, r)
}

func (h *House) SummarizeSideGoods(ctx context.Context, r *inventoryv1.SummarizeSideGoodsRequest) (*inventoryv1.SummarizeSideGoodsResponse, error) {
	return &inventoryv1.SummarizeSideGoodsResponse{Stocks: []*inventoryv1.SideStock{
		{Good: inventoryv1.SideGood_SIDE_GOOD_BEESWAX, CropYear: 2026, Mass: lb("31.5")}, {Good: inventoryv1.SideGood_SIDE_GOOD_COMB_SECTION, CropYear: 2026, Pieces: 28},
	}}, h.note(ctx, r)
}

func (h *House) RecordSideEntry(ctx context.Context, r *inventoryv1.RecordSideEntryRequest) (*inventoryv1.SideEntry, error) {
	return &inventoryv1.SideEntry{Name: "sideEntries/3"}, h.note(ctx, r)
}
