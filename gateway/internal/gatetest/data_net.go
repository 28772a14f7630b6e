package gatetest

import (
	"context"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// NetCheckID is a failed check nobody has released.
const NetCheckID = "4e700000-0000-4000-8000-000000000001"

func netCheck() *inventoryv1.NetContentCheck {
	return &inventoryv1.NetContentCheck{
		Name: "netContentChecks/" + NetCheckID, PackLot: "packLots/" + LotID, Unit: inventoryv1.NetUnit_NET_UNIT_G, Declared: "453.6", LotSize: 250,
		NetWeights: []string{"455.1", "454.0", "454.2", "456.3", "452.9", "453.8", "430.1", "454.9", "455.0", "454.4", "453.1", "455.7"},
		Average:    "452.4583", StandardDeviation: "7.1", SampleErrorLimit: "4.5", MaxAllowableVariation: "20.0", PackagesShort: 1, AveragePassed: true,
		Sentences: []string{"1 package is short by more than 20.0 g, none may be", "the average 452.4583 g is kept"}, Checker: "users/line1", CheckTime: at(3 * time.Hour),
	}
}

// ListNetContentChecks and its neighbours answer for the jars weighed against their label.
func (h *House) ListNetContentChecks(ctx context.Context, r *inventoryv1.ListNetContentChecksRequest) (*inventoryv1.ListNetContentChecksResponse, error) {
	answer := &inventoryv1.ListNetContentChecksResponse{}
	if r.GetPackLot() == "packLots/"+LotID {
		answer.Checks = append(answer.Checks, netCheck())
	}
	return answer, h.note(ctx, r)
}

func (h *House) CheckNetContent(ctx context.Context, r *inventoryv1.CheckNetContentRequest) (*inventoryv1.NetContentCheck, error) {
	return netCheck(), h.note(ctx, r)
}

func (h *House) ReleaseNetContentCheck(ctx context.Context, r *inventoryv1.ReleaseNetContentCheckRequest) (*inventoryv1.NetContentCheck, error) {
	return netCheck(), h.note(ctx, r)
}
