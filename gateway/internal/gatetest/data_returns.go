package gatetest

import (
	"context"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// Returns that wait: jars a line hand received, and part of a drum.
const (
	ReturnID     = "2e700000-0000-4000-8000-000000000001"
	BulkReturnID = "2e700000-0000-4000-8000-000000000002"
)

func returns() []*inventoryv1.CustomerReturn {
	jars := &inventoryv1.CustomerReturn{
		Name: "returns/" + ReturnID, Shipment: "shipments/5a100000-0000-4000-8000-000000000014", Customer: "Market Hall Larder", Place: "packLots/" + LotID, LotCode: LotCode,
		Jars: 240, Mass: lb("240.0"), Reason: "recalled: loose lids", Receiver: "users/line1", ReceiveTime: at(2 * time.Hour), WaitingJars: 140, Waiting: lb("140.0"),
		Decisions: []*inventoryv1.ReturnDecision{{
			Name: "transfers/2e700000-0000-4000-8000-000000000003", Outcome: inventoryv1.ReturnOutcome_RETURN_OUTCOME_DESTROYED, To: "losses/DESTROYED", Jars: 100, Mass: lb("100.0"),
			Reason: "lids open", Decider: "users/office1", DecideTime: at(time.Hour),
		}},
	}
	bulk := &inventoryv1.CustomerReturn{
		Name: "returns/" + BulkReturnID, Shipment: "shipments/5a100000-0000-4000-8000-000000000014", Customer: "North Mill Bakery", Place: "stock/" + StockID, Mass: lb("320.0"),
		Reason: "more than ordered", Receiver: "users/warehouse1", ReceiveTime: at(3 * time.Hour), Waiting: lb("320.0"),
	}
	return []*inventoryv1.CustomerReturn{jars, bulk}
}

// ListReturns answers two that wait.
func (h *House) ListReturns(ctx context.Context, r *inventoryv1.ListReturnsRequest) (*inventoryv1.ListReturnsResponse, error) {
	return &inventoryv1.ListReturnsResponse{Returns: returns()}, h.note(ctx, r)
}

// GetReturn answers one of them.
func (h *House) GetReturn(ctx context.Context, r *inventoryv1.GetReturnRequest) (*inventoryv1.CustomerReturn, error) {
	if err := h.note(ctx, r); err != nil {
		return nil, err
	}
	return find(ctx, returns(), r.GetName(), nil)
}

// ReceiveReturn answers the jars.
func (h *House) ReceiveReturn(ctx context.Context, r *inventoryv1.ReceiveReturnRequest) (*inventoryv1.ReceiveReturnResponse, error) {
	return &inventoryv1.ReceiveReturnResponse{Returns: returns()[:1]}, h.note(ctx, r)
}

// DecideReturn answers them too.
func (h *House) DecideReturn(ctx context.Context, r *inventoryv1.DecideReturnRequest) (*inventoryv1.CustomerReturn, error) {
	return returns()[0], h.note(ctx, r)
}
