package gatetest

import (
	"context"
	"strings"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// Names of the invented season that tests ask for.
const (
	ChargeID = "c4a60000-0000-4000-8000-000000000001"
	// ChargeCode is what people call it.
	ChargeCode = "T1-26-003"
	EmptyID    = "c4a61000-0000-4000-8000-000000000002"
	LotID      = "10700000-0000-4000-8000-000000000001"
	RunningID  = "10700000-0000-4000-8000-000000000002"
	// BestBy is of the lot that was closed.
	BestBy    = "2028-09-13"
	secondBox = "stock/5d7e3a10-0000-4000-8000-000000000012"
)

func tanks() []*inventoryv1.Tank {
	return []*inventoryv1.Tank{
		{Name: "tanks/T1", Capacity: lb("12000"), Content: lb("8420.5"), Charge: "charges/" + ChargeID, ChargeCode: ChargeCode},
		{Name: "tanks/T2", Capacity: lb("12000"), Content: lb("0.0"), Charge: "charges/" + EmptyID, ChargeCode: "T2-26-001"},
		{Name: "tanks/T3", Capacity: lb("5000"), Content: lb("4990.0")},
	}
}

func rules() *inventoryv1.ClaimRules {
	return &inventoryv1.ClaimRules{Variety: "clover", MinSharePercent: "51.0", MaxMoisturePercent: "17.8", MaxPfundMm: "34.0"}
}

func charges() []*inventoryv1.Charge {
	return []*inventoryv1.Charge{
		{
			Name: "charges/" + ChargeID, Code: ChargeCode, Tank: "tanks/T1", State: inventoryv1.LotState_LOT_STATE_OPEN, Rules: rules(), Content: lb("8420.5"), OpenPicks: []string{"stock/" + StockID},
			Figures:       &inventoryv1.BlendFigures{Weight: lb("8420.5"), MoisturePercent: "17.62", PfundMm: "28.4", SharePercent: "71.4", Members: 6, Barrels: 13},
			Substitutions: []*inventoryv1.Substitution{{PlannedItem: "stock/" + StockID, UsedItem: secondBox, Reason: "the planned one leaks at the bung", Actor: "users/warehouse1", Time: at(5 * time.Hour)}},
			Previous:      "charges/" + EmptyID, PreviousUnexplained: lb("6.5"), PreviousAskedWriteOff: lb("4.0"), AskedWriteOff: lb("12.5"), Opener: "users/warehouse1", OpenTime: at(8 * time.Hour),
		},
		{
			Name: "charges/" + EmptyID, Code: "T2-26-001", Tank: "tanks/T2", State: inventoryv1.LotState_LOT_STATE_OPEN, Rules: rules(), Content: lb("0.0"), Opener: "users/warehouse1", OpenTime: at(30 * time.Hour),
			Figures:             &inventoryv1.BlendFigures{Weight: lb("0.0"), Breaches: []inventoryv1.BlendLimit{inventoryv1.BlendLimit_BLEND_LIMIT_MIN_SHARE}},
			PreviousUnexplained: lb("0.0"),
		},
	}
}

func lots() []*inventoryv1.PackLot {
	return []*inventoryv1.PackLot{
		{
			Name: "packLots/" + RunningID, Code: "FC26257L2B", Label: "labels/CLOVER-1LB-3", Line: "L2", Charges: []string{"charges/" + ChargeID, "charges/" + EmptyID},
			State: inventoryv1.LotState_LOT_STATE_OPEN, Content: lb("1212.5"), Starter: "users/line1", StartTime: at(2 * time.Hour),
		},
		{
			Name: "packLots/" + LotID, Code: LotCode, Label: "labels/CLOVER-1LB-3", Line: "L1", Charges: []string{"charges/" + ChargeID}, State: inventoryv1.LotState_LOT_STATE_CLOSED,
			Content: lb("371.5"), Jars: 1262, JarsOnHand: 370, MeanNet: lb("1.004"), Starter: "users/line1", StartTime: at(26 * time.Hour), BestByDate: BestBy,
		},
	}
}

// ListTanks and its neighbours answer for tanks, runs of jars and the dispatch.
func (h *House) ListTanks(ctx context.Context, r *inventoryv1.ListTanksRequest) (*inventoryv1.ListTanksResponse, error) {
	return &inventoryv1.ListTanksResponse{Tanks: tanks()}, h.note(ctx, r)
}

func (h *House) CreateTank(ctx context.Context, r *inventoryv1.CreateTankRequest) (*inventoryv1.Tank, error) {
	return tanks()[0], h.note(ctx, r)
}

func (h *House) ListCharges(ctx context.Context, r *inventoryv1.ListChargesRequest) (*inventoryv1.ListChargesResponse, error) {
	answer := &inventoryv1.ListChargesResponse{}
	for _, c := range charges() {
		if r.GetTank() == "" || r.GetTank() == c.GetTank() {
			answer.Charges = append(answer.Charges, c)
		}
	}
	return answer, h.note(ctx, r)
}

// GetCharge takes what people call one too.
func (h *House) GetCharge(ctx context.Context, r *inventoryv1.GetChargeRequest) (*inventoryv1.Charge, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	for _, c := range charges() {
		if "charges/"+c.GetCode() == r.GetName() {
			return c, nil
		}
	}
	return find(ctx, charges(), r.GetName(), nil)
}

func (h *House) OpenCharge(ctx context.Context, r *inventoryv1.OpenChargeRequest) (*inventoryv1.Charge, error) {
	return charges()[0], h.note(ctx, r)
}

// FillCharge asks what a barrel that was not planned stands in for, as the service does.
func (h *House) FillCharge(ctx context.Context, r *inventoryv1.FillChargeRequest) (*inventoryv1.Charge, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetStockItem() != "stock/"+StockID && (r.GetReplaces() == "" || r.GetReason() == "") {
		return nil, apierr.ReasonRequired("replaces", "drum FC-04418 was not planned: scan again, or say which of the 1 still planned it replaces, and why", nil)
	}
	return charges()[0], nil
}

func (h *House) CorrectHeel(ctx context.Context, r *inventoryv1.CorrectHeelRequest) (*inventoryv1.Charge, error) {
	return charges()[0], h.note(ctx, r)
}

func (h *House) TransferCharge(ctx context.Context, r *inventoryv1.TransferChargeRequest) (*inventoryv1.Charge, error) {
	return charges()[0], h.note(ctx, r)
}

func (h *House) CloseCharge(ctx context.Context, r *inventoryv1.CloseChargeRequest) (*inventoryv1.Charge, error) {
	return charges()[0], h.note(ctx, r)
}

func (h *House) RecordLoss(ctx context.Context, r *inventoryv1.RecordLossRequest) (*inventoryv1.Transfer, error) {
	weight := r.GetMass()
	if weight == nil {
		weight = lb("3.0")
	}
	return &inventoryv1.Transfer{Name: "transfers/1", From: r.GetFrom(), Mass: weight}, h.note(ctx, r)
}

func (h *House) ListPackLots(ctx context.Context, r *inventoryv1.ListPackLotsRequest) (*inventoryv1.ListPackLotsResponse, error) {
	return &inventoryv1.ListPackLotsResponse{PackLots: lots()}, h.note(ctx, r)
}

// GetPackLot takes the code on a jar too.
func (h *House) GetPackLot(ctx context.Context, r *inventoryv1.GetPackLotRequest) (*inventoryv1.PackLot, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	for _, lot := range lots() {
		if "packLots/"+lot.GetCode() == r.GetName() {
			return lot, nil
		}
	}
	return find(ctx, append(lots(), heldLot()), r.GetName(), nil)
}

func (h *House) StartPackLot(ctx context.Context, r *inventoryv1.StartPackLotRequest) (*inventoryv1.PackLot, error) {
	return lots()[0], h.note(ctx, r)
}

func (h *House) DrawPackLot(ctx context.Context, r *inventoryv1.DrawPackLotRequest) (*inventoryv1.PackLot, error) {
	return lots()[0], h.note(ctx, r)
}

func (h *House) ReturnRework(ctx context.Context, r *inventoryv1.ReturnReworkRequest) (*inventoryv1.PackLot, error) {
	return lots()[0], h.note(ctx, r)
}

func (h *House) ClosePackLot(ctx context.Context, r *inventoryv1.ClosePackLotRequest) (*inventoryv1.PackLot, error) {
	return lots()[1], h.note(ctx, r)
}

func (h *House) ListLabels(ctx context.Context, r *inventoryv1.ListLabelsRequest) (*inventoryv1.ListLabelsResponse, error) {
	return &inventoryv1.ListLabelsResponse{Labels: []*inventoryv1.Label{
		{Name: "labels/CLOVER-1LB-3", Title: "Fallow Creek clover honey, 1 lb", Rules: rules(), ShelfLifeMonths: 24, Approver: "users/lead1", Evidence: "proof of 14 September", Creator: "users/office1", CreateTime: at(900 * time.Hour)},
		{Name: "labels/TABLE-2LB-1", Title: "Fallow Creek table honey, 2 lb", Rules: &inventoryv1.ClaimRules{MaxMoisturePercent: "18.6"}, Face: &inventoryv1.LabelFace{CertifiedClaims: []string{"organic"}}, Creator: "users/office1", CreateTime: at(900 * time.Hour)},
	}}, h.note(ctx, r)
}

func (h *House) CreateLabel(ctx context.Context, r *inventoryv1.CreateLabelRequest) (*inventoryv1.Label, error) {
	return &inventoryv1.Label{Name: "labels/" + r.GetLabelId()}, h.note(ctx, r)
}

func shipments() []*inventoryv1.Shipment {
	return []*inventoryv1.Shipment{{
		Name: "shipments/5a100000-0000-4000-8000-000000000014", Customer: "Market Hall Larder", Carrier: "Own lorry", CarrierAddress: "1 Creamery Lane", CarrierTelephone: "555 0111", Shipper: "users/line1", ShipTime: at(20 * time.Hour),
		Lines: []*inventoryv1.ShipmentLine{{PackLot: "packLots/" + LotID, Jars: 892, Mass: lb("900.0")}}, Pallets: []string{"pallets/" + PalletID}, PalletCodes: []string{SSCC}, CustomerOnRecord: "customers/MARKET-HALL",
	}, {
		Name: "shipments/5a100000-0000-4000-8000-000000000016", Customer: "Harvest Fair", RecallContact: "555 0144", Carrier: "Own lorry", Shipper: "users/line1", ShipTime: at(21 * time.Hour),
		Lines: []*inventoryv1.ShipmentLine{{PackLot: "packLots/" + LotID, Jars: 10, Mass: lb("10.1")}},
	}, {
		Name: "shipments/5a100000-0000-4000-8000-000000000015", Customer: "Harvest Fair", Carrier: "Valley Freight", Shipper: "users/line1", ShipTime: at(900 * time.Hour),
		BulkLines: []*inventoryv1.BulkLine{{Place: "charges/" + ChargeID, Mass: lb("8.5"), Containers: "pail 3, seal 4411"}},
	}}
}

func (h *House) GetShipment(ctx context.Context, r *inventoryv1.GetShipmentRequest) (*inventoryv1.Shipment, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, shipments(), r.GetName(), nil)
}

func (h *House) ListShipments(ctx context.Context, r *inventoryv1.ListShipmentsRequest) (*inventoryv1.ListShipmentsResponse, error) {
	return &inventoryv1.ListShipmentsResponse{Shipments: shipments()}, h.note(ctx, r)
}

func (h *House) Ship(ctx context.Context, r *inventoryv1.ShipRequest) (*inventoryv1.Shipment, error) {
	made := shipments()[0]
	made.Customer = r.GetCustomer()
	return made, h.note(ctx, r)
}

// ExplainBlendChoice finds any barrel wetter than the order allows.
func (h *House) ExplainBlendChoice(ctx context.Context, r *inventoryv1.ExplainBlendChoiceRequest) (*inventoryv1.BlendChoiceExplanation, error) {
	return &inventoryv1.BlendChoiceExplanation{
		StockItem: r.GetStockItem(), DrumTag: "FC-04417", Choice: inventoryv1.BlendChoice_BLEND_CHOICE_BREAKS_LIMIT,
		Explanation: "barrel FC-04417 cannot be used: with it, even in the best company, no choice keeps water of at most 18.4 %: broken by 0.2 %, to 18.6 %",
	}, h.note(ctx, r)
}

// CheckBlendSwap refuses any change for its water, but for a barrel left out.
func (h *House) CheckBlendSwap(ctx context.Context, r *inventoryv1.CheckBlendSwapRequest) (*inventoryv1.BlendSwapCheck, error) {
	if len(r.GetInItems()) == 0 {
		return &inventoryv1.BlendSwapCheck{Accepted: true, Explanation: "accepted: every limit is kept", StockItems: []string{secondBox}}, h.note(ctx, r)
	}
	return &inventoryv1.BlendSwapCheck{
		Explanation: "refused: it comes to 18.55 %, and the order asks for water of at most 18.4 %",
		Limits: []*inventoryv1.BlendLimitCheck{
			{Limit: inventoryv1.BlendLimit_BLEND_LIMIT_MAX_WEIGHT, Allowed: "1300.0", Before: "1283.5", After: "1291.0", Unit: "LB", Kept: true, KeptBefore: true},
			{Limit: inventoryv1.BlendLimit_BLEND_LIMIT_MAX_MOISTURE, Allowed: "18.4", Before: "18.30", After: "18.55", Unit: "%", KeptBefore: true, Excess: "0.15"},
		},
	}, h.note(ctx, r)
}

// PlanBlend finds two barrels for any order that does not ask for the impossible: drier than 16 percent.
func (h *House) PlanBlend(ctx context.Context, r *inventoryv1.PlanBlendRequest) (*inventoryv1.BlendPlan, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	order := r.GetOrders()[0]
	if strings.HasPrefix(order.GetMaxMoisturePercent(), "15") {
		return &inventoryv1.BlendPlan{Status: inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE, Nodes: 41, Candidates: 22, Orders: []*inventoryv1.BlendOrderPlan{{
			Order: order.GetId(), Status: inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE, Explanation: "the driest barrels that reach 1,200.0 lb come to 16.9 % water",
			Conflict:    []inventoryv1.BlendLimit{inventoryv1.BlendLimit_BLEND_LIMIT_MIN_WEIGHT, inventoryv1.BlendLimit_BLEND_LIMIT_MAX_MOISTURE},
			Relaxations: []*inventoryv1.BlendChange{{Limit: inventoryv1.BlendLimit_BLEND_LIMIT_MAX_MOISTURE, From: "15.9", To: "16.9", By: "1.0", Unit: "%", Nearest: true}},
		}}}, nil
	}
	plan := &inventoryv1.BlendPlan{Status: inventoryv1.BlendStatus_BLEND_STATUS_PROVED, Nodes: 212, Candidates: 22, Cost: usd("18.20"), Bound: usd("18.20")}
	boxes := [][]string{{"stock/" + StockID, secondBox}}
	if len(r.GetOrders()) > 1 {
		boxes = [][]string{{"stock/" + StockID}, {secondBox}}
	}
	for n, box := range boxes {
		plan.Orders = append(plan.Orders, &inventoryv1.BlendOrderPlan{
			Order: r.GetOrders()[n].GetId(), Status: inventoryv1.BlendStatus_BLEND_STATUS_PROVED, StockItems: box, Weight: lb("1283.5"), MoisturePercent: "18.30",
			PfundMm: "22.1", SharePercent: "50.14", Members: 2, Cost: usd("18.20"), Bound: usd("18.20"), Explanation: "2 barrels of 22 keep every limit, and nothing cheaper does",
		})
	}
	return plan, nil
}
