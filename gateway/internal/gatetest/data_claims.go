package gatetest

import (
	"context"
	"time"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// stockClaims are one of each kind: declared alone, approved, and withdrawn after a test.
func stockClaims() []*inventoryv1.StockClaim {
	declared := &inventoryv1.ClaimDeclaration{Evidence: "OC-2231", Ticket: "tickets/" + CloseTicketID}
	approval := func(withdrawer, reason string) *inventoryv1.ClaimApproval {
		return &inventoryv1.ClaimApproval{
			Evidence: "certificate OC-2231, file 7", Approver: "users/office1", ApproveTime: at(60 * time.Hour), Withdrawer: withdrawer, WithdrawReason: reason, WithdrawTime: at(30 * time.Hour),
		}
	}
	test := func(o inventoryv1.ClaimOutcome) *inventoryv1.ClaimTest {
		return &inventoryv1.ClaimTest{Outcome: o, Report: "R-7", Method: "pollen count", Recorder: "users/lead1", RecordTime: at(70 * time.Hour)}
	}
	return []*inventoryv1.StockClaim{
		{Claim: "organic", Declared: declared, Tested: test(inventoryv1.ClaimOutcome_CLAIM_OUTCOME_SUPPORTS), Approved: approval("", ""), Stands: true},
		{Claim: "upper valley", Declared: declared, Tested: test(inventoryv1.ClaimOutcome_CLAIM_OUTCOME_CONTRADICTS), Approved: approval("users/lead1", "test report R-7 contradicts it")},
		{Claim: "wild", Declared: &inventoryv1.ClaimDeclaration{Ticket: "tickets/" + CloseTicketID}},
	}
}

func (h *House) RecordClaimTest(ctx context.Context, r *inventoryv1.RecordClaimTestRequest) (*inventoryv1.ClaimTest, error) {
	return &inventoryv1.ClaimTest{Name: "claimTests/1"}, h.note(ctx, r)
}

func (h *House) ApproveClaim(ctx context.Context, r *inventoryv1.ApproveClaimRequest) (*inventoryv1.ClaimApproval, error) {
	return &inventoryv1.ClaimApproval{Name: "claimApprovals/1"}, h.note(ctx, r)
}

func (h *House) WithdrawClaim(ctx context.Context, r *inventoryv1.WithdrawClaimRequest) (*inventoryv1.ClaimApproval, error) {
	return &inventoryv1.ClaimApproval{Name: "claimApprovals/1"}, h.note(ctx, r)
}
