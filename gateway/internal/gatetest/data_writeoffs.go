package gatetest

import (
	"context"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

// Write-offs of the invented season: one that waits, one of which less is there than was asked for, and one that was declined.
const (
	WaitingOffID  = "3f0a7c00-0000-4000-8000-000000000001"
	FoundOffID    = "3f0a7c00-0000-4000-8000-000000000002"
	DeclinedOffID = "3f0a7c00-0000-4000-8000-000000000003"
)

func writeOffs() []*inventoryv1.WriteOff {
	return []*inventoryv1.WriteOff{
		{
			Name: "writeOffs/" + WaitingOffID, From: "charges/" + ChargeID, Mass: lb("12.5"), Reason: "dipped twice, the gauge agrees", Asker: "users/warehouse1", AskTime: at(3 * time.Hour),
			State: inventoryv1.WriteOffState_WRITE_OFF_STATE_WAITING, HeldWhenAsked: lb("8433.0"), HeldNow: lb("8420.5"),
		},
		{
			Name: "writeOffs/" + FoundOffID, From: "packLots/" + LotID, Mass: lb("3.0"), Jars: 3, Reason: "not on the shelf", Asker: "users/line1", AskTime: at(4 * time.Hour),
			State: inventoryv1.WriteOffState_WRITE_OFF_STATE_WAITING, HeldWhenAsked: lb("371.5"), HeldNow: lb("2.0"),
		},
		{
			Name: "writeOffs/" + DeclinedOffID, From: "stock/" + StockID, Mass: lb("640.0"), Reason: "not in the rack", Asker: "users/warehouse1", AskTime: at(50 * time.Hour),
			State: inventoryv1.WriteOffState_WRITE_OFF_STATE_DECLINED, HeldWhenAsked: lb("640.0"), HeldNow: lb("640.0"), Decider: "users/office1", DecideReason: "it stands at the dock",
			DecideTime: at(40 * time.Hour),
		},
	}
}

// ListWriteOffs and its neighbours answer for honey that was not found.
func (h *House) ListWriteOffs(ctx context.Context, r *inventoryv1.ListWriteOffsRequest) (*inventoryv1.ListWriteOffsResponse, error) {
	answer := &inventoryv1.ListWriteOffsResponse{}
	for _, o := range writeOffs() {
		if (r.GetFrom() == "" || r.GetFrom() == o.GetFrom()) && (!r.GetWaitingOnly() || o.GetDecider() == "") {
			answer.WriteOffs = append(answer.WriteOffs, o)
		}
	}
	return answer, h.note(ctx, r)
}

func (h *House) GetWriteOff(ctx context.Context, r *inventoryv1.GetWriteOffRequest) (*inventoryv1.WriteOff, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, writeOffs(), r.GetName(), nil)
}

func (h *House) RequestWriteOff(ctx context.Context, r *inventoryv1.RequestWriteOffRequest) (*inventoryv1.WriteOff, error) {
	made := writeOffs()[0]
	made.From = r.GetFrom()
	if r.GetMass() != nil {
		made.Mass = r.GetMass()
	}
	return made, h.note(ctx, r)
}

// DecideWriteOff wants a reason to decline, as the service does.
func (h *House) DecideWriteOff(ctx context.Context, r *inventoryv1.DecideWriteOffRequest) (*inventoryv1.WriteOff, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	if r.GetDecision() == inventoryv1.WriteOffState_WRITE_OFF_STATE_DECLINED && r.GetReason() == "" {
		return nil, apierr.Field("reason", "must be at least 3 characters: say why the honey stays in the books")
	}
	made := writeOffs()[0]
	made.State, made.Decider = r.GetDecision(), "users/office1"
	return made, nil
}

// WithdrawWriteOff answers with the request that was taken back.
func (h *House) WithdrawWriteOff(ctx context.Context, r *inventoryv1.WithdrawWriteOffRequest) (*inventoryv1.WriteOff, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	made, err := find(ctx, writeOffs(), r.GetName(), nil)
	if err != nil {
		return nil, err
	}
	made.State, made.Decider, made.DecideReason = inventoryv1.WriteOffState_WRITE_OFF_STATE_WITHDRAWN, "users/warehouse1", r.GetReason()
	return made, nil
}
