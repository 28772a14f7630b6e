package paper

import (
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// claimText is one claim of a barrel with what it rests on: declared, tested and approved, none of which stands for another.
func claimText(c *inventoryv1.StockClaim) string {
	declared, tested := "not declared", "not tested"
	if d := c.GetDeclared(); d.GetEvidence() != "" {
		declared = "declared with certificate " + d.GetEvidence()
	} else if d != nil {
		declared = "declared without a certificate"
	}
	switch t := c.GetTested(); t.GetOutcome() {
	case inventoryv1.ClaimOutcome_CLAIM_OUTCOME_SUPPORTS:
		tested = "test report " + t.GetReport() + " supports it"
	case inventoryv1.ClaimOutcome_CLAIM_OUTCOME_CONTRADICTS:
		tested = "test report " + t.GetReport() + " contradicts it"
	case inventoryv1.ClaimOutcome_CLAIM_OUTCOME_UNSPECIFIED: // not tested
	}
	return c.GetClaim() + ": " + declared + ", " + tested + ", " + approvalText(c)
}

func approvalText(c *inventoryv1.StockClaim) string {
	switch a := c.GetApproved(); {
	case a == nil:
		return "not approved"
	case a.GetWithdrawer() != "":
		return "approval withdrawn (" + a.GetWithdrawReason() + ")"
	case !c.GetStands():
		return "approved for an earlier ticket only"
	default:
		return "approved on " + a.GetEvidence()
	}
}

// claimsOf joins the claims of a barrel for one cell of a table.
func claimsOf(source *inventoryv1.TraceSource) string {
	texts := make([]string, 0, len(source.GetClaims()))
	for _, c := range source.GetClaims() {
		texts = append(texts, claimText(c))
	}
	return strings.Join(texts, "; ")
}

// recallClaims writes what is claimed of each barrel, for a lot may be called back over a label.
func (s *sheet) recallClaims(r recall) {
	s.together(24)
	s.line("B", 11, "What is claimed of each barrel, as it stands today")
	claimed := false
	for _, source := range r.GetSources() {
		for n, c := range source.GetClaims() {
			claimed = true
			s.together(14)
			if n == 0 {
				s.paragraph("B", 9, r.called(source.GetStockItem()))
			}
			s.paragraph("", 9, claimText(c))
		}
	}
	if !claimed {
		s.paragraph("", 9, "Nothing beyond the floral source.")
	}
	s.Ln(4)
}
