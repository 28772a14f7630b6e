package warehouse

import (
	"net/url"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

const (
	testClaim     = inventoryv1.WarehouseRecordsService_RecordClaimTest_FullMethodName
	approveClaim  = inventoryv1.WarehouseRecordsService_ApproveClaim_FullMethodName
	withdrawClaim = inventoryv1.WarehouseRecordsService_WithdrawClaim_FullMethodName
)

var claimOutcomes = site.NewOptions("SUPPORTS", "supports it", "CONTRADICTS", "contradicts it")

// claimPages are where what a member claims of a barrel is tested and approved.
func (s room) claimPages() map[string]site.Page {
	return map[string]site.Page{
		"/stock/{id}/claims/test":     {Needs: testClaim, And: listStock, Show: s.testClaim, Form: true},
		"/bench/{code}/claim":         {Needs: testClaim, Show: s.testClaimBlind, Form: true},
		"/stock/{id}/claims/approve":  {Needs: approveClaim, Show: s.approveClaim, Form: true},
		"/stock/{id}/claims/withdraw": {Needs: withdrawClaim, Show: s.withdrawClaim, Form: true},
	}
}

// claimTask is a form about one claim of a barrel.
func (s room) claimTask(v *site.Visit, f *site.Form, name, title string, act func(stockItem string) error) (site.View, error) {
	item := "stock/" + v.PathValue("id")
	back := "/" + item
	return s.PlainTask(v, f, name, title, map[string]any{"Back": back, "Of": f.Value("tag"), "Outcomes": claimOutcomes}, func() (string, error) {
		return back, act(item)
	})
}

func (s room) testClaim(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.claimTask(v, f, "testclaim", "Record a test of a claim", func(item string) error {
		req := claimTest(f)
		req.StockItem = item
		_, err := s.Records.RecordClaimTest(v.Ctx, req)
		return err
	})
}

// testClaimBlind is the same for a laboratory, which knows the code on the jar and no barrel.
func (s room) testClaimBlind(v *site.Visit) (site.View, error) {
	f, code := v.Form(), v.PathValue("code")
	back := "/bench/" + code
	return s.PlainTask(v, f, "testclaim", "Record a test of a claim", map[string]any{"Back": back, "Of": "jar " + code, "Outcomes": claimOutcomes}, func() (string, error) {
		req := claimTest(f)
		req.Sample = "samples/" + code
		_, err := s.Records.RecordClaimTest(v.Ctx, req)
		return back + "?claim=" + url.QueryEscape(f.Value("claim")), err
	})
}

func claimTest(f *site.Form) *inventoryv1.RecordClaimTestRequest {
	return &inventoryv1.RecordClaimTestRequest{
		RequestId: f.RequestID, Claim: f.Value("claim"), Report: f.Value("report"), Method: f.Value("method"),
		Outcome: inventoryv1.ClaimOutcome(inventoryv1.ClaimOutcome_value["CLAIM_OUTCOME_"+f.Value("outcome")]),
	}
}

func (s room) approveClaim(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.claimTask(v, f, "approveclaim", "Approve a claim", func(item string) error {
		_, err := s.Records.ApproveClaim(v.Ctx, &inventoryv1.ApproveClaimRequest{
			RequestId: f.RequestID, StockItem: item, Claim: f.Value("claim"), Evidence: f.Value("evidence"),
		})
		return err
	})
}

func (s room) withdrawClaim(v *site.Visit) (site.View, error) {
	f := v.Form()
	return s.claimTask(v, f, "withdrawclaim", "Withdraw an approval", func(item string) error {
		_, err := s.Records.WithdrawClaim(v.Ctx, &inventoryv1.WithdrawClaimRequest{
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
	share := site.Number(f.Value("claim_share"))
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
