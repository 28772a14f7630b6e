package web_test

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

func TestBlend_PlansSeveralOrdersAtOnce(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/blend?max_weight=1300&more=yes")
	require.Contains(t, body, `name="max_weight_2"`)
	require.NotContains(t, body, "Order 1: ", "the empty one is not planned")
	require.Len(t, last(t, w, &inventoryv1.PlanBlendRequest{}).GetOrders(), 1)

	two := "/blend?orders=2&max_weight=1300&max_weight_2=1,400&max_moisture_percent_2=17,5&variety_2=Clover&values=clover%3B+white%3B+2.10%0Aany%3B+any%3B+1.60&age_credit=0.05&why=fc-04417&why_order=2&swap_out=fc-04418"
	_, body = open(t, client, w.URL+two)
	asked := last(t, w, &inventoryv1.PlanBlendRequest{})
	require.Len(t, asked.GetOrders(), 2)
	require.Equal(t, int64(50_000), asked.GetNodeBudget(), "the page is waited for")
	require.Equal(t, "1400", asked.GetOrders()[1].GetMinWeight().GetValue())
	require.Equal(t, "17.5", asked.GetOrders()[1].GetMaxMoisturePercent())
	require.Equal(t, "0.05", asked.GetAgeCreditPerDay().GetAmount())
	require.Equal(t, "WHITE", asked.GetValues()[0].GetColorClass())
	require.Empty(t, asked.GetValues()[1].GetVariety())
	require.Equal(t, asked.GetOrders()[1].GetId(), last(t, w, &inventoryv1.ExplainBlendChoiceRequest{}).GetOrder())
	require.Equal(t, []string{"stock/" + secondBox}, last(t, w, &inventoryv1.CheckBlendSwapRequest{}).GetStockItems(), "of the order that has it")
	for _, said := range []string{"Both orders can be filled.", "Order 2: 1 barrel, 1,283.5", "The change is fine.", "Fill a tank with the changed plan", "Value given away"} {
		require.Contains(t, body, said)
	}
	require.NotContains(t, body, "LB")
	require.Contains(t, html.UnescapeString(body), "/tanks?max_moisture_percent=17%2C5&picks=FC-04418&variety=Clover", "each order with its own limits")

	w.House.Refuse(&inventoryv1.PlanBlendRequest{}, apierr.Field("orders[1].max_moisture_percent", "is 120, must be at most 100"))
	_, body = open(t, client, w.URL+"/blend?orders=2&max_weight=1300&max_weight_2=1400&max_moisture_percent_2=120")
	require.Regexp(t, `<p>Order 2, [^<]* is 120, must be at most 100`, body, "which of them")
	require.Contains(t, body, `id="h-max_moisture_percent_2"`)
}

func TestBarrels_AreAskedForAllAtOnce(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	open(t, client, w.URL+"/blend?max_weight=1300")
	require.Len(t, w.House.Asked(&inventoryv1.ListStockRequest{}), 2, "what the plan names, and whether each tag still leads to it")
	require.Empty(t, w.House.Asked(&inventoryv1.GetStockItemRequest{}))
	require.Empty(t, w.House.Asked(&intakev1.GetDrumRequest{}))

	answer, _ := open(t, client, w.URL+"/stock/find?drum_tag=fc-04417")
	require.Equal(t, "/stock/"+gatetest.StockID, answer.Header.Get("Location"))
	answer, _ = open(t, client, w.URL+"/stock/find?drum_tag=nothing")
	_, body := open(t, client, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "There is no drum NOTHING.")

	_, body = open(t, client, w.URL+"/holds")
	require.Contains(t, body, "FC-04418: residue", "what is held")
	_, body = open(t, w.Browser("lead1"), w.URL+"/holds")
	require.NotContains(t, body, "FC-04418", "the laboratory knows no drums")
}

func TestFill_ASubstituteThatBreaksARuleIsConfirmed(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	page := w.URL + "/charges/" + gatetest.ChargeID + "/fill"
	typed := url.Values{"drum_tag": {"FC-04418"}, "replaces": {"stock/" + gatetest.StockID}, "reason": {"it leaks"}}
	w.House.Refuse(&inventoryv1.FillChargeRequest{}, apierr.ReasonRequired("confirm_breach", "with drum FC-04418, and all that is still planned, water is 18.7 % and may be at most 18.4 %: take another barrel, or confirm it", nil))
	_, body := send(t, client, page, typed)
	require.Contains(t, body, "water is 18.7 % and may be at most 18.4 %")
	require.Contains(t, body, `name="confirm_breach"`)
	require.Regexp(t, `id="f-drum_tag"[^>]*autofocus`, body, "where the next scan goes")
	require.False(t, last(t, w, &inventoryv1.FillChargeRequest{}).GetConfirmBreach())
	typed.Set("confirm_breach", "yes")
	send(t, client, page, typed)
	require.True(t, last(t, w, &inventoryv1.FillChargeRequest{}).GetConfirmBreach())
}

func TestHeat_AFileInTheWrongUnitIsAskedAbout(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	rows := url.Values{"stay": {"hr1"}, "warmed": {"fc-04417"}, "readings": {"time,probe,celsius\n2026-09-20 14:15,p1,112.5\n"}}
	_, body := send(t, client, w.URL+"/heat/new", rows)
	require.Contains(t, body, "112.5 °C, that is 234.5 °F")
	require.Empty(t, w.House.Asked(&inventoryv1.RecordTemperaturesRequest{}), "what is recorded stays recorded")
	rows.Set("hot", "yes")
	answer, _ := send(t, client, w.URL+"/heat/new", rows)
	require.Equal(t, "/stock/"+gatetest.StockID+"/heat", answer.Header.Get("Location"))

	rows.Set("readings", "time,probe,celsius\n"+strings.Repeat("20/09/2026 14:15,p1,44.1\n", 9))
	_, body = send(t, client, w.URL+"/heat/new", rows)
	require.Contains(t, body, "is not a time such as 2026-09-20 14:15", "an example stays as it is to be written")
	require.Contains(t, body, "And 4 more.")
	rows.Set("readings", strings.Repeat("2026-09-20 14:15,p1,44.1\n", 200_000))
	_, body = send(t, client, w.URL+"/heat/new", rows)
	require.Contains(t, body, "too large: at most 4 MB are taken at once; send it in parts, each with its first row")
}

func TestMessages_OfServicesAreWrittenAsPeopleSayThem(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("line1")
	w.House.Refuse(&inventoryv1.ClosePackLotRequest{}, apierr.State("packLots/"+gatetest.RunningID, "OPEN",
		"packLots/"+gatetest.RunningID+" is held since 2026-09-14 12:00 UTC by users/lead1: 1,212.5 lb are unexplained"))
	_, body := send(t, client, w.URL+"/lots/"+gatetest.RunningID+"/close", url.Values{"jars": {"10"}, "mean_net": {"1"}})
	require.Contains(t, body, "Lot FC26257L2B is held since 14 Sep, 07:00 by lead1: 1,212.5 lb are unexplained.")
}

func TestTrace_OffersTheEventsToWhomTheyAreFor(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("office1"), w.URL+"/trace?code="+gatetest.LotCode)
	require.Contains(t, body, `action="/v1/traceEvents.jsonld"`)
	require.Contains(t, body, `/hold">Hold what is left`)
	_, body = open(t, w.Browser("line1"), w.URL+"/trace?code="+gatetest.LotCode)
	require.NotContains(t, body, "traceEvents")
	require.NotContains(t, body, "Hold what is left")
}

func TestApproveLabel_ShowsWhatWasEntered(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("lead1"), w.URL+"/labels/CLOVER-1LB-3/approve")
	require.Contains(t, body, "Fallow Creek clover honey, 1 lb")
	require.NotEmpty(t, last(t, w, &inventoryv1.ListLabelsRequest{}))
	answer, _ := open(t, w.Browser("lab1"), w.URL+"/labels")
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
	require.Empty(t, w.House.Asked(&gradingv1.GetSampleRequest{}))
}
