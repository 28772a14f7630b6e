package web_test

import (
	"io"
	"net/http"
	"testing"

	"barrelhead.example/gateway/internal/gatetest"
	"github.com/stretchr/testify/require"
)

// open returns status, headers and body of a page.
func open(t *testing.T, c *http.Client, url string) (*http.Response, string) {
	t.Helper()
	answer, err := c.Get(url)
	require.NoError(t, err)
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return answer, string(body)
}

// everyPage is each page with somebody who may see it.
var everyPage = map[string][]string{
	"dock1": {
		"/", "/dock", "/tickets", "/tickets?state=open", "/tickets/new", "/tickets/" + gatetest.OpenTicketID, "/tickets/" + gatetest.CloseTicketID,
		"/tickets/" + gatetest.OpenTicketID + "/weigh", "/tickets/" + gatetest.OpenTicketID + "/close", "/tickets/" + gatetest.OpenTicketID + "/cancel",
		"/tickets/" + gatetest.CloseTicketID + "/void", "/barrels/" + gatetest.LastBarrelID + "/sample", "/scales", "/scales/1/check", "/standards", "/password",
	},
	"lab1":       {"/", "/bench", "/bench/" + gatetest.WaitingCode, "/bench/" + gatetest.WaitingCode + "/read", "/certificates", "/certificates/" + gatetest.CertificateID},
	"lead1":      {"/", "/bench", "/bench/" + gatetest.MeasuredCode, "/bench/" + gatetest.MeasuredCode + "/certify", "/holds", "/holds/" + gatetest.HoldID + "/release"},
	"warehouse1": {"/", "/stock", "/stock/list", "/stock/list?variety=clover&held=yes", "/stock/move", "/stock/" + gatetest.StockID, "/stock/" + gatetest.StockID + "/hold", "/holds"},
	"office1": {
		"/", "/members", "/members/new", "/members/M-0012", "/payouts/" + gatetest.PayoutID, "/payouts/" + gatetest.PayoutID + "/lines/1", "/unpriced", "/totals",
		"/schedules", "/schedules/new", "/schedules/" + gatetest.ScheduleID, "/tickets/" + gatetest.VoidTicketID, "/tickets/" + gatetest.VoidTicketID + "/approve", "/tickets?member=M-0012",
	},
	"board1":   {"/", "/schedules/" + gatetest.DraftID, "/schedules/" + gatetest.DraftID + "/adopt", "/totals", "/stock"},
	"auditor1": {"/", "/tickets", "/bench", "/certificates", "/stock", "/holds?all=1", "/totals", "/members", "/unpriced", "/schedules", "/scales"},
	"admin":    {"/", "/logins", "/logins/new", "/logins/admin", "/scales", "/scales/new"},
	"juniper": {
		"/me", "/payouts/" + gatetest.PayoutID, "/payouts/" + gatetest.PayoutID + "/lines/1", "/payouts/" + gatetest.PayoutID + "/lines/2", "/tickets",
		"/tickets/" + gatetest.CloseTicketID, "/schedules", "/schedules/" + gatetest.ScheduleID, "/scales", "/unpriced", "/password",
	},
}

func TestEveryPage_IsDrawnForWhoMaySeeIt(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	for login, pages := range everyPage {
		client := w.Browser(login)
		for _, page := range pages {
			answer, body := open(t, client, w.URL+page)
			require.Equal(t, http.StatusOK, answer.StatusCode, "%s as %s: %s", page, login, body)
			require.Contains(t, body, "<h1", page)
		}
	}
	require.Empty(t, w.Logs.FilterMessage("page cannot be drawn").All())
}
