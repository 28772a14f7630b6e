package web

import (
	"net/url"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

const (
	testClaim     = inventoryv1.WarehouseRecordsService_RecordClaimTest_FullMethodName
	approveClaim  = inventoryv1.WarehouseRecordsService_ApproveClaim_FullMethodName
	withdrawClaim = inventoryv1.WarehouseRecordsService_WithdrawClaim_FullMethodName
)

var claimOutcomes = newOptions("SUPPORTS", "supports it", "CONTRADICTS", "contradicts it")

// claimPages are where what a member claims of a barrel is tested and approved.
func (s *site) claimPages() map[string]page {
	return map[string]page{
		"/stock/{id}/claims/test":     {needs: testClaim, and: listStock, show: s.testClaim, form: true},
		"/bench/{code}/claim":         {needs: testClaim, show: s.testClaimBlind, form: true},
		"/stock/{id}/claims/approve":  {needs: approveClaim, show: s.approveClaim, form: true},
		"/stock/{id}/claims/withdraw": {needs: withdrawClaim, show: s.withdrawClaim, form: true},
	}
}

// claimTask is a form about one claim of a barrel.
func (s *site) claimTask(v *visit, f *form, name, title string, act func(stockItem string) error) (view, error) {
	item := "stock/" + v.PathValue("id")
	back := "/" + item
	return s.plainTask(v, f, name, title, map[string]any{"Back": back, "Of": f.Value("tag"), "Outcomes": claimOutcomes}, func() (string, error) {
		return back, act(item)
	})
}

func (s *site) testClaim(v *visit) (view, error) {
	f := v.form()
	return s.claimTask(v, f, "testclaim", "Record a test of a claim", func(item string) error {
		req := claimTest(f)
		req.StockItem = item
		_, err := s.records.RecordClaimTest(v.ctx, req)
		return err
	})
}

// testClaimBlind is the same for a laboratory, which knows the code on the jar and no barrel.
func (s *site) testClaimBlind(v *visit) (view, error) {
	f, code := v.form(), v.PathValue("code")
	back := "/bench/" + code
	return s.plainTask(v, f, "testclaim", "Record a test of a claim", map[string]any{"Back": back, "Of": "jar " + code, "Outcomes": claimOutcomes}, func() (string, error) {
		req := claimTest(f)
		req.Sample = "samples/" + code
		_, err := s.records.RecordClaimTest(v.ctx, req)
		return back + "?claim=" + url.QueryEscape(f.Value("claim")), err
	})
}

func claimTest(f *form) *inventoryv1.RecordClaimTestRequest {
	return &inventoryv1.RecordClaimTestRequest{
		RequestId: f.RequestID, Claim: f.Value("claim"), Report: f.Value("report"), Method: f.Value("method"),
		Outcome: inventoryv1.ClaimOutcome(inventoryv1.ClaimOutcome_value["CLAIM_OUTCOME_"+f.Value("outcome")]),
	}
}

func (s *site) approveClaim(v *visit) (view, error) {
	f := v.form()
	return s.claimTask(v, f, "approveclaim", "Approve a claim", func(item string) error {
		_, err := s.records.ApproveClaim(v.ctx, &inventoryv1.ApproveClaimRequest{
			RequestId: f.RequestID, StockItem: item, Claim: f.Value("claim"), Evidence: f.Value("evidence"),
		})
		return err
	})
}

func (s *site) withdrawClaim(v *visit) (view, error) {
	f := v.form()
	return s.claimTask(v, f, "withdrawclaim", "Withdraw an approval", func(item string) error {
		_, err := s.records.WithdrawClaim(v.ctx, &inventoryv1.WithdrawClaimRequest{
			RequestId: f.RequestID, StockItem: item, Claim: f.Value("claim"), Reason: f.Value("reason"),
		})
		return err
	})
}

// claimGroup asks a blend for a share of barrels a claim is approved for; all of it unless a share was typed.
func claimGroup(f orderForm) []*inventoryv1.BlendGroup {
	claim := strings.ToLower(f.Value("claim"))
	if claim == "" {
		return nil
	}
	share := decimal(f.Value("claim_share"))
	if share == "" {
		share = "100"
	}
	return []*inventoryv1.BlendGroup{{Name: claim, Claim: claim, MinSharePercent: share}}
}

// listed reads words with commas between.
func listed(typed string) (out []string) {
	for one := range strings.SplitSeq(typed, ",") {
		if one = strings.TrimSpace(one); one != "" {
			out = append(out, one)
		}
	}
	return out
}
