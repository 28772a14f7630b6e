package web_test

import (
	"bytes"
	"html"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

const secondBox = "5d7e3a10-0000-4000-8000-000000000012"

func TestCharge_GoesByItsCode(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/charges/"+gatetest.ChargeCode)
	require.Contains(t, body, "Charge T1-26-003, open")
	require.Contains(t, body, "/charges/"+gatetest.ChargeID+"/fill", "its address stays the id")
	_, body = open(t, client, w.URL+"/tanks")
	require.Contains(t, body, "Charge T1-26-003")
	_, body = open(t, client, w.URL+"/tanks/T1")
	require.Contains(t, body, "<strong>T1-26-003</strong>")
	_, body = open(t, client, w.URL+"/shipments")
	require.Contains(t, body, "T1-26-003</a>, in pail 3", "of honey sold in bulk too")
	for _, address := range []string{"/tanks/T1", "/charges/" + gatetest.ChargeID, "/shipments", "/lots/" + gatetest.LotID, "/trace?code=" + gatetest.LotCode, "/write-offs"} {
		_, body = open(t, client, w.URL+address)
		require.NotRegexp(t, `[^/]c4a60000[^-]`, body, address+" shows no part of an id")
	}
	w.House.Refuse(&inventoryv1.CloseChargeRequest{}, apierr.State("charges/"+gatetest.ChargeID, "CLOSED", "charges/"+gatetest.ChargeID+" is closed"))
	_, body = send(t, client, w.URL+"/charges/"+gatetest.ChargeID+"/close", url.Values{})
	require.Contains(t, body, "harge T1-26-003 is closed")
}

func TestFill_AsksWhatAnUnplannedBarrelStandsInFor(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	page := w.URL + "/charges/" + gatetest.ChargeID + "/fill"
	_, body := open(t, client, page)
	require.NotContains(t, body, "stands in for")
	answer, body := send(t, client, page, url.Values{"drum_tag": {"fc-04418"}, "drained": {"yes"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "It stands in for")
	require.Contains(t, body, "FC-04417", "the planned barrel, by its tag")
	first := last(t, w, &inventoryv1.FillChargeRequest{})
	require.True(t, first.GetDrained())

	answer, _ = post(t, client, page, url.Values{
		"form_token": {hidden(t, body, "form_token")}, "request_id": {hidden(t, body, "request_id")}, "drum_tag": {"FC-04418"}, "drained": {"yes"},
		"replaces": {"stock/" + gatetest.StockID}, "reason": {"the planned one leaks"},
	})
	require.Equal(t, "/charges/"+gatetest.ChargeID+"/fill?in=FC-04418", answer.Header.Get("Location"))
	second := last(t, w, &inventoryv1.FillChargeRequest{})
	require.Equal(t, first.GetRequestId(), second.GetRequestId(), "one barrel, one request")
	require.Equal(t, "stock/"+secondBox, second.GetStockItem())
	require.Equal(t, "stock/"+gatetest.StockID, second.GetReplaces())
	require.Nil(t, second.GetMass(), "all that is left in it")
}

func TestBlend_IsHandedOnToATank(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/blend?min_weight=1,200&max_weight=1300&max_moisture_percent=18,4&variety=Clover&min_share_percent=50&excluded=fc-04417&max_aged_barrels=0")
	order := last(t, w, &inventoryv1.PlanBlendRequest{})
	require.Equal(t, "1200", order.GetOrders()[0].GetMinWeight().GetValue())
	require.Equal(t, "18.4", order.GetOrders()[0].GetMaxMoisturePercent())
	require.Equal(t, "clover", order.GetOrders()[0].GetVariety())
	require.Zero(t, order.GetOrders()[0].GetMaxAgedBarrels())
	require.NotNil(t, order.GetOrders()[0].MaxAgedBarrels, "none is not the same as any number")
	require.Equal(t, []string{"stock/" + gatetest.StockID}, order.GetExcludedItems())
	require.Contains(t, body, "18.30 % water, 22.1 mm")

	_, next, found := strings.Cut(body, `href="/tanks?`)
	require.True(t, found)
	query, _, _ := strings.Cut(next, `"`)
	_, body = open(t, client, w.URL+"/tanks?"+html.UnescapeString(query))
	_, next, found = strings.Cut(body, `href="/tanks/T1/open?`)
	require.True(t, found, body)
	query, _, _ = strings.Cut(next, `"`)
	address := w.URL + "/tanks/T1/open?" + html.UnescapeString(query)
	_, body = open(t, client, address)
	require.Contains(t, body, "FC-04418", "what is on the drum")
	require.NotContains(t, body, secondBox)
	answer, body := send(t, client, address, url.Values{"heel": {"0"}, "picks": {gatetest.StockID + "\nfc-04418"}, "max_moisture_percent": {"18.4"}})
	require.Equal(t, "/charges/"+gatetest.ChargeID, answer.Header.Get("Location"), body)
	opened := last(t, w, &inventoryv1.OpenChargeRequest{})
	require.Equal(t, []string{"stock/" + gatetest.StockID, "stock/" + secondBox}, opened.GetPicks())
	require.Equal(t, "0", opened.GetHeel().GetValue(), "an empty tank is said to be empty")

	_, body = open(t, client, w.URL+"/blend?max_weight=1300&max_moisture_percent=15.9")
	require.Contains(t, body, "No choice of barrels keeps every limit.")
	require.Contains(t, body, "the most water")
	require.Contains(t, body, "<strong>the most water</strong>: 16.9\u00a0% in place of 15.9\u00a0%: 1.0\u00a0% further.")
}

func TestBlend_SaysWhyNotABarrelAndChecksAChangeOnTheFloor(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/blend?max_weight=1300&max_moisture_percent=18.4&why=fc-04417&max_hmf_mg_per_kg=30&best_by_date=2028-10-31")
	asked := last(t, w, &inventoryv1.ExplainBlendChoiceRequest{})
	require.Equal(t, "stock/"+gatetest.StockID, asked.GetStockItem())
	require.Equal(t, "2028-10-31", asked.GetPlan().GetOrders()[0].GetBestByDate())
	require.Contains(t, body, "broken by 0.2 %, to 18.6 %")

	_, body = open(t, client, w.URL+"/blend?max_weight=1300&max_moisture_percent=18.4&swap_out=fc-04417&swap_in=fc-04418")
	swap := last(t, w, &inventoryv1.CheckBlendSwapRequest{})
	require.Equal(t, []string{"stock/" + gatetest.StockID}, swap.GetOutItems())
	require.Len(t, swap.GetStockItems(), 2, "the plan as it was made")
	require.Contains(t, body, "Not with this change.")
	require.Contains(t, body, "over by 0.15")

	w.House.Refuse(&inventoryv1.PlanBlendRequest{}, apierr.Field("orders[0].min_weight.value", "is \"abc\", must be a number"))
	_, body = open(t, client, w.URL+"/blend?max_weight=1300&min_weight=abc")
	require.Contains(t, body, "“At least” is &#34;abc&#34;", "an order's field is called what stands over it")
}

func TestLots_AreDrawnCountedAndShipped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("line1")
	w.House.Refuse(&inventoryv1.DrawPackLotRequest{}, apierr.ReasonRequired("confirm_further_charge", "lot FC26257L2B was drawn from another tank charge so far", nil))
	page := w.URL + "/lots/" + gatetest.RunningID + "/draw"
	_, body := open(t, client, page)
	require.NotContains(t, body, "confirm_further_charge")
	answer, body := send(t, client, page, url.Values{"charge": {"charges/" + gatetest.ChargeID}, "mass": {"400"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "confirm_further_charge")
	answer, _ = send(t, client, page, url.Values{"charge": {"charges/" + gatetest.ChargeID}, "mass": {"400"}, "confirm_further_charge": {"yes"}, "reason": {"the tank ran dry"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.True(t, last(t, w, &inventoryv1.DrawPackLotRequest{}).GetConfirmFurtherCharge())

	answer, _ = send(t, client, w.URL+"/lots/"+gatetest.RunningID+"/close", url.Values{"jars": {"1262"}, "mean_net": {"1.004"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.EqualValues(t, 1262, last(t, w, &inventoryv1.ClosePackLotRequest{}).GetJars())

	answer, body = send(t, client, w.URL+"/shipments/new", url.Values{"customer": {"Market Hall Larder"}, "carrier": {"Own lorry"}, "lines": {gatetest.LotCode}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "Line 1 of lines cannot be read: it needs code and jars")
	answer, body = send(t, client, w.URL+"/shipments/new", url.Values{"customer": {"Market Hall Larder"}, "carrier": {"Own lorry"}, "lines": {strings.ToLower(gatetest.LotCode) + " 370"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, body)
	line := last(t, w, &inventoryv1.ShipRequest{}).GetLines()[0]
	require.Equal(t, "packLots/"+gatetest.LotID, line.GetPackLot())
	require.EqualValues(t, 370, line.GetJars())
}

func TestPayments_AreReleasedAsShownAndHandedOutOnce(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := w.Browser("office1")
	_, body := open(t, office, w.URL+"/payments/"+gatetest.BatchID)
	require.NotContains(t, body, "Release exactly", "who prepares does not release")
	require.Contains(t, body, "1 payment; 1 balance, $2,348.18, is not paid.")
	require.Contains(t, body, "Kept back for loans")
	require.Contains(t, body, "$80.00<small>and $3.81 interest</small>")
	for _, page := range []string{"/members/M-0007", "/members/M-0007/statements/2026/read"} {
		_, body = open(t, office, w.URL+page)
		require.Contains(t, body, "<strong>For 18 Sep 2026</strong><span>Sedge Hollow Apiary, account ending in 4417: $838.10 owed</span>", page)
	}
	client := w.Browser("treasurer1")
	answer, _ := send(t, client, w.URL+"/payments/"+gatetest.BatchID, url.Values{"do": {"release"}, "fingerprint": {gatetest.Fingerprint}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, gatetest.Fingerprint, last(t, w, &settlementv1.ReleasePaymentsRequest{}).GetFingerprint())

	page := w.URL + "/payments/" + gatetest.ReleasedID
	_, form := open(t, client, page)
	fields := url.Values{"form_token": {hidden(t, form, "form_token")}, "request_id": {hidden(t, form, "request_id")}, "do": {"ACH"}}
	for range 2 { // a button pressed twice
		answer, body = post(t, client, page, fields)
		require.Equal(t, http.StatusOK, answer.StatusCode)
		require.Contains(t, answer.Header.Get("Content-Disposition"), "P-2026-001.ach")
		require.Equal(t, "101 payments of "+gatetest.ReleasedID, body)
	}
	answer, body = send(t, client, page, url.Values{"do": {"ACH"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "was handed out already")
}

func TestAccount_FaultsStandBesideTheirField(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("office1")
	w.House.Refuse(&settlementv1.EnterPayeeAccountRequest{}, apierr.Field("payee_account.routing_number", "has a wrong check digit"))
	answer, body := send(t, client, w.URL+"/accounts/new", url.Values{"payee": {"12"}, "holder": {"Juniper Ridge Bees"}, "routing_number": {"000000001"}, "account_number": {"4417"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Regexp(t, `(?s)name="routing_number"[^>]*aria-invalid="true"`, body)
	require.Contains(t, body, `id="h-routing_number">Has a wrong check digit.`)
	require.Equal(t, gatetest.Juniper, last(t, w, &settlementv1.EnterPayeeAccountRequest{}).GetPayeeAccount().GetPayee())
}

func TestWhatIf_StartsFromTheBarrelAsItWasPaid(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	page := w.URL + "/payouts/" + gatetest.PayoutID + "/what-if"
	_, body := open(t, client, page)
	require.Empty(t, w.House.Asked(&settlementv1.EstimatePayoutRequest{}), "nothing is priced before it is asked")
	require.Contains(t, body, `name="moisture_percent" type="text" value="19.2"`)
	_, body = open(t, client, page+"?moisture_percent=17,8")
	require.Contains(t, body, "$5.17 more than was credited")
	asked := last(t, w, &settlementv1.EstimatePayoutRequest{})
	require.Equal(t, "17.8", asked.GetMoisturePercent())
	require.Equal(t, "basswood", asked.GetVariety())
	require.Equal(t, "2026-09-07", asked.GetDeliveryDate())
	require.Equal(t, "640.0", asked.GetNet().GetValue())
	_, body = open(t, client, w.URL+"/what-if?net=640&moisture_percent=17.8&variety=clover")
	require.Contains(t, body, "“Colour” is missing. Grade is missing.")
	_, body = open(t, client, w.URL+"/what-if?net=640&moisture_percent=17.8&variety=buckwheat&color_class=DARK_AMBER&grade=C")
	require.Contains(t, body, "No adopted schedule has a price for buckwheat")
}

// upload posts a file as the page of the import would.
func upload(t *testing.T, c *http.Client, page, content string) string {
	t.Helper()
	_, form := open(t, c, page)
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	for _, name := range []string{"form_token", "request_id"} {
		require.NoError(t, parts.WriteField(name, hidden(t, form, name)))
	}
	part, err := parts.CreateFormFile("file", "members.csv")
	require.NoError(t, err)
	_, err = part.Write([]byte(content))
	require.NoError(t, err)
	require.NoError(t, parts.Close())
	answer, err := c.Post(page, parts.FormDataContentType(), &body)
	require.NoError(t, err)
	var shown bytes.Buffer
	_, err = shown.ReadFrom(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusOK, answer.StatusCode, shown.String())
	return shown.String()
}

func TestImport_ChecksFirstAndRegistersTheSameBytes(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("office1")
	page := w.URL + "/members/import"
	body := upload(t, client, page, "member_number,display_name,join_date\nM-0050,Alder Bend Bees,2026-13-01\nX-1,,\n")
	require.Contains(t, body, "nobody was registered")
	require.Contains(t, body, "Row 2")
	require.Contains(t, body, "Row 3")
	require.NotContains(t, body, "Register them")
	require.Empty(t, w.House.Asked(&intakev1.CreateMemberRequest{}))

	body = upload(t, client, page, "member_number,display_name\nM-0050,Alder Bend Bees\n")
	require.Contains(t, body, "1 member would be registered")
	require.Empty(t, w.House.Asked(&intakev1.CreateMemberRequest{}), "checking registers nobody")
	answer, body := post(t, client, page, url.Values{
		"form_token": {hidden(t, body, "form_token")}, "request_id": {hidden(t, body, "request_id")}, "content": {html.UnescapeString(hidden(t, body, "content"))},
	})
	require.Equal(t, http.StatusOK, answer.StatusCode, body)
	require.Contains(t, body, "1 member was registered")
	require.Equal(t, "M-0050", last(t, w, &intakev1.CreateMemberRequest{}).GetMemberNumber())

	answer, body = send(t, client, page, url.Values{})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "must be chosen")
	dock := w.Browser("dock1")
	answer, _ = open(t, dock, page)
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
}

func TestSplits_TakeOneOwnerALine(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("office1")
	answer, body := send(t, client, w.URL+"/members/M-0012/splits/new", url.Values{
		"effective_date": {"2026-10-01"}, "lines": {"m-0012; 66,6667\n31; 33.3333"}, "note": {"signed by both"},
	})
	require.Equal(t, "/members/M-0012/splits", answer.Header.Get("Location"), body)
	set := last(t, w, &intakev1.SetStandingSplitRequest{})
	require.Equal(t, gatetest.Juniper, set.GetOwners()[0].GetMember())
	require.Equal(t, "66.6667", set.GetOwners()[0].GetSharePercent())
	require.Equal(t, "members/M-0031", set.GetOwners()[1].GetMember())
	_, own := open(t, w.Browser("juniper"), w.URL+"/deliveries")
	require.Contains(t, own, "66.6667 % is yours")
}

func TestNetContent_IsWeighedByTheLineAndReleasedByAnother(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	line := w.Browser("line1")
	page := w.URL + "/lots/" + gatetest.LotID + "/net"
	_, body := open(t, line, page)
	require.Contains(t, body, "The lot may not be shipped: the last check failed.")
	require.Equal(t, 1, strings.Count(body, "c-point c-fail"), "the one jar that is short")
	require.Equal(t, 12, strings.Count(body, "<circle class=\"c-point"))
	require.NotContains(t, body, "Let the lot go", "who weighs does not release")
	answer, _ := send(t, line, page+"/new", url.Values{"unit": {"G"}, "declared": {"453,6"}, "net_weights": {"455.1 454.0\n430.1"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	asked := last(t, w, &inventoryv1.CheckNetContentRequest{})
	require.Equal(t, []string{"455.1", "454.0", "430.1"}, asked.GetNetWeights())
	require.Equal(t, "453.6", asked.GetDeclared())
	office := w.Browser("office1")
	answer, _ = send(t, office, w.URL+"/net-checks/"+gatetest.NetCheckID+"/release?lot="+gatetest.LotID, url.Values{"lot": {gatetest.LotID}, "reason": {"the short jar was taken out"}})
	require.Equal(t, "/lots/"+gatetest.LotID+"/net", answer.Header.Get("Location"))
	require.Equal(t, "netContentChecks/"+gatetest.NetCheckID, last(t, w, &inventoryv1.ReleaseNetContentCheckRequest{}).GetName())
}
