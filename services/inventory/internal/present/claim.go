package present

import (
	"google.golang.org/protobuf/types/known/timestamppb"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/stock"
)

// OutcomePrefix stands before the outcome of a test in the enum.
const OutcomePrefix = "CLAIM_OUTCOME_"

// Claims shows what is claimed of a barrel.
func Claims(claims []stock.Claim) (out []*inventoryv1.StockClaim) {
	for _, c := range claims {
		m := &inventoryv1.StockClaim{Claim: c.Name, Stands: c.Stands()}
		if c.Declared != nil {
			m.Declared = &inventoryv1.ClaimDeclaration{Evidence: c.Declared.Evidence, Ticket: "tickets/" + c.Declared.Ticket.String()}
		}
		if c.Tested != nil {
			m.Tested = ClaimTest(*c.Tested)
		}
		if c.Approved != nil {
			m.Approved = ClaimApproval(*c.Approved)
		}
		out = append(out, m)
	}
	return out
}

// ClaimTest shows a test.
func ClaimTest(t stock.ClaimTest) *inventoryv1.ClaimTest {
	return &inventoryv1.ClaimTest{
		Name: t.Name(), StockItem: stock.Name(t.Barrel), Claim: t.Claim, Outcome: inventoryv1.ClaimOutcome(inventoryv1.ClaimOutcome_value[OutcomePrefix+string(t.Outcome)]),
		Report: t.Report, Method: t.Method, Recorder: t.Recorder, RecordTime: timestamppb.New(t.Time),
	}
}

// ClaimApproval shows an approval.
func ClaimApproval(a stock.ClaimApproval) *inventoryv1.ClaimApproval {
	m := &inventoryv1.ClaimApproval{
		Name: a.Name(), StockItem: stock.Name(a.Barrel), Claim: a.Claim, Evidence: a.Evidence, Ticket: "tickets/" + a.Ticket.String(),
		Approver: a.Approver, ApproveTime: timestamppb.New(a.Time),
	}
	if a.Withdrawn != nil {
		m.Withdrawer, m.WithdrawReason, m.WithdrawTime = a.Withdrawn.Withdrawer, a.Withdrawn.Reason, timestamppb.New(a.Withdrawn.Time)
	}
	return m
}
