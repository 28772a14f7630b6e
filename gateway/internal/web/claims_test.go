package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestClaims_AreShownAsThreeFieldsWithTheFormsOfWhoMay(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	warehouse, office, lead := w.Browser("warehouse1"), w.Browser("office1"), w.Browser("lead1")
	page := w.URL + "/stock/" + gatetest.StockID
	_, body := open(t, warehouse, page)
	for _, words := range []string{
		"Organic: blends and labels may rest on it", "certificate OC-2231", "supports it, report R-7, pollen count", "Upper valley: no blend or label may rest on it",
		"withdrawn: test report R-7 contradicts it", "without a certificate", "not yet", "only with evidence on file", "claims/test?claim=upper%20valley&amp;tag=FC-04417",
	} {
		require.Contains(t, body, words)
	}
	require.NotContains(t, body, "claims/approve")
	require.NotContains(t, body, "claims/withdraw")
	_, body = open(t, office, page)
	require.Contains(t, body, "claims/approve?claim=wild")
	require.NotContains(t, body, "claims/approve?claim=organic", "it stands")
	require.Contains(t, body, "claims/withdraw?claim=organic")
	require.NotContains(t, body, "claims/withdraw?claim=wild")
	require.NotContains(t, body, "claims/test")

	answer, _ := open(t, lead, page+"/claims/test")
	require.Equal(t, http.StatusForbidden, answer.StatusCode, "the laboratory lead does not read the stock, and tests by the jar")
	answer, _ = send(t, warehouse, page+"/claims/test", url.Values{"claim": {"organic"}, "outcome": {"CONTRADICTS"}, "report": {"R-8"}, "method": {"residue screen"}})
	require.Equal(t, "/stock/"+gatetest.StockID, answer.Header.Get("Location"))
	tested := last(t, w, &inventoryv1.RecordClaimTestRequest{})
	require.Equal(t, "stock/"+gatetest.StockID, tested.GetStockItem())
	require.Equal(t, inventoryv1.ClaimOutcome_CLAIM_OUTCOME_CONTRADICTS, tested.GetOutcome())
	jar := "/bench/" + gatetest.MeasuredCode
	for _, from := range []string{jar, "/certificates/" + gatetest.CertificateID} {
		_, body = open(t, lead, w.URL+from)
		require.Contains(t, body, "/claim\">Record a test of a claim", from)
	}
	_, body = open(t, w.Browser("lab1"), w.URL+jar)
	require.NotContains(t, body, "/claim\">")
	answer, _ = send(t, lead, w.URL+jar+"/claim", url.Values{"claim": {"upper valley"}, "outcome": {"SUPPORTS"}, "report": {"R-9"}, "method": {"pollen count"}})
	require.Equal(t, jar+"?claim=upper+valley", answer.Header.Get("Location"))
	blind := last(t, w, &inventoryv1.RecordClaimTestRequest{})
	require.Equal(t, "samples/"+gatetest.MeasuredCode, blind.GetSample())
	require.Empty(t, blind.GetStockItem())
	_, body = open(t, lead, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "The test of “upper valley” is recorded.")
	answer, _ = send(t, office, page+"/claims/approve", url.Values{"claim": {"wild"}, "evidence": {"file 8"}})
	require.Equal(t, "/stock/"+gatetest.StockID, answer.Header.Get("Location"))
	require.Equal(t, "file 8", last(t, w, &inventoryv1.ApproveClaimRequest{}).GetEvidence())
	send(t, office, page+"/claims/withdraw", url.Values{"claim": {"organic"}, "reason": {"certificate lapsed"}})
	require.Equal(t, "certificate lapsed", last(t, w, &inventoryv1.WithdrawClaimRequest{}).GetReason())

	send(t, office, w.URL+"/labels/new", url.Values{"label_id": {"o-1"}, "title": {"Organic honey"}, "certified_claims": {"organic, Upper valley,"}})
	require.Equal(t, []string{"organic", "Upper valley"}, last(t, w, &inventoryv1.CreateLabelRequest{}).GetFace().GetCertifiedClaims())
	_, body = open(t, warehouse, w.URL+"/labels")
	require.Contains(t, body, "Certified for every barrel: organic")
	open(t, warehouse, w.URL+"/blend?max_weight=1300&claim=Organic")
	asked := last(t, w, &inventoryv1.PlanBlendRequest{}).GetOrders()[0].GetGroups()
	require.Len(t, asked, 1)
	require.Equal(t, "organic", asked[0].GetClaim())
	require.Equal(t, "100", asked[0].GetMinSharePercent())
	_, body = open(t, office, w.URL+"/trace?code="+gatetest.LotCode)
	require.Contains(t, body, "Upper valley: approval withdrawn, test report R-7 contradicts it")
}
