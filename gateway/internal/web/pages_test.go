package web_test

import (
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
)

// reply is what came back beside the body.
type reply struct {
	StatusCode int
	Header     http.Header
	Cookies    []*http.Cookie
}

func replyOf(answer *http.Response) reply {
	return reply{StatusCode: answer.StatusCode, Header: answer.Header, Cookies: answer.Cookies()}
}

// open returns status, headers and body of a page.
func open(t *testing.T, c *http.Client, url string) (reply, string) {
	t.Helper()
	answer, err := c.Get(url)
	require.NoError(t, err)
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return replyOf(answer), string(body)
}

// everyPage is each page with somebody who may see it.
var everyPage = map[string][]string{
	"dock1": {
		"/", "/dock", "/tickets", "/tickets?state=open", "/tickets/new", "/tickets/" + gatetest.OpenTicketID, "/tickets/" + gatetest.CloseTicketID,
		"/tickets/" + gatetest.OpenTicketID + "/weigh", "/tickets/" + gatetest.OpenTicketID + "/weigh?typed=yes", "/tickets/" + gatetest.OpenTicketID + "/close", "/tickets/" + gatetest.OpenTicketID + "/cancel",
		"/tickets/" + gatetest.CloseTicketID + "/void", "/barrels/" + gatetest.LastBarrelID + "/sample", "/scales", "/scales/1/check", "/standards", "/password",
		"/dock/away", "/reviews", "/reviews/" + gatetest.ReviewID, "/barrels/" + gatetest.DoubtfulBarrel + "/reweigh", "/drums", "/drums?owner=M-0012", "/drums/new", "/drums/FC-04417", "/variances",
		"/tickets/" + gatetest.PaperTrip, "/tickets/" + gatetest.PaperTrip + "/paper", "/tickets/" + gatetest.PaperTrip + "/declare", "/tickets/" + gatetest.PaperTrip + "/reject", "/barrels/" + gatetest.PaperID + "/confirm",
		"/tickets/" + gatetest.CloseTicketID + "/rejects/" + gatetest.RejectID + "/left", "/dock-terms", "/portions", "/samples", "/samples/" + gatetest.BrokenCode, "/samples/" + gatetest.BrokenCode + "/record",
		"/containers", "/members/M-0012/containers", "/members/M-0007/containers", "/members/M-0012/containers/move",
	},
	"lab1":  {"/", "/bench", "/bench/" + gatetest.WaitingCode, "/bench/" + gatetest.WaitingCode + "/read", "/certificates", "/certificates/" + gatetest.CertificateID, "/appeals", "/appeals/" + gatetest.OpenAppealID, "/appeals/" + gatetest.OpenAppealID + "/measure", "/bench/" + gatetest.MeasuredCode + "/reread", "/controls", "/controls/" + gatetest.ControlID + "/run", "/composites", "/composites/" + gatetest.CompositeCode, "/outside", "/outside?sample=" + gatetest.WaitingCode, "/outside/new?sample=" + gatetest.WaitingCode, "/outside/import", "/outside/" + gatetest.KeyedResultID + "/confirm", "/outside/" + gatetest.KeyedResultID + "/withdraw"},
	"lead1": {"/bench/" + gatetest.MeasuredCode + "/claim", "/drills", "/drills/new", "/drills/" + gatetest.DrillID + "/finish", "/labels/CLOVER-1LB-3/approve", "/", "/bench", "/bench/" + gatetest.MeasuredCode, "/bench/" + gatetest.MeasuredCode + "/certify", "/duplicates", "/bench/" + gatetest.MeasuredCode + "/duplicate", "/appeals/" + gatetest.MeasuredAppeal, "/appeals/" + gatetest.MeasuredAppeal + "/decide", "/holds", "/holds/" + gatetest.HoldID + "/release", "/controls", "/controls/" + gatetest.ControlRunID + "/confirm", "/composites/new", "/bench/" + gatetest.MeasuredCode + "/dispose", "/controls/new", "/controls/" + gatetest.ControlID + "/retire", "/bias?from=2026-09-01&to=2026-09-14", "/views?viewer=users/lab1"},
	"warehouse1": {
		"/blend", "/blend?min_weight=1200&max_weight=1300&max_moisture_percent=18.4&variety=clover&min_share_percent=50", "/blend?max_weight=1300&max_moisture_percent=15.9", "/blend?max_weight=1300&max_moisture_percent=18.4&why=fc-04417&swap_out=fc-04417&swap_in=fc-04418", "/tanks", "/tanks?picks=1", "/tanks/T1", "/tanks/T1/open",
		"/charges/" + gatetest.ChargeID, "/charges/" + gatetest.EmptyID, "/charges/" + gatetest.ChargeID + "/fill", "/charges/" + gatetest.ChargeID + "/fill?in=FC-04418", "/charges/" + gatetest.ChargeID + "/heel", "/charges/" + gatetest.ChargeID + "/transfer",
		"/charges/" + gatetest.ChargeID + "/close", "/loss?from=charges/" + gatetest.ChargeID, "/charges/" + gatetest.ChargeID + "?done=asked&mass=12.5", "/write-offs", "/write-offs/" + gatetest.WaitingOffID + "/withdraw", "/write-offs?done=approved&mass=12.5", "/lots", "/shipments", "/returns", "/returns?all=1", "/labels",
		"/stock/" + gatetest.StockID + "/split", "/stock/" + gatetest.StockID + "/heat", "/charges/" + gatetest.ChargeID + "/heat", "/charges/" + gatetest.ChargeID + "/hold", "/lots/" + gatetest.LotID + "/hold",
		"/stock/" + gatetest.StockID + "/claims/test", "/counts", "/counts/new", "/drills", "/", "/stock", "/stock?source=basswood", "/stock?source=heather", "/stock/list", "/stock/list?variety=clover&held=yes", "/stock/move", "/stock/" + gatetest.StockID, "/stock/" + gatetest.StockID + "/hold", "/holds", "/trace", "/trace?code=" + gatetest.LotCode, "/trace?code=FC-04417", "/trace?code=nothing", "/balance", "/balances?by=run", "/balances?by=tank", "/heat/new", "/heat/allowed", "/heat/allowed?stay=HR1&done=yes", "/heat/allow?stay=HR1", "/side-goods", "/side-goods/new", "/pallets", "/pallets/" + gatetest.PalletID,
	},
	"line1": {"/clearances", "/clearances?cleared=L1", "/clearances/new", "/lots/" + gatetest.RunningID + "/weigh", "/lots/" + gatetest.LotID + "/weigh", "/lots/" + gatetest.RunningID + "/weigh/new", "/pallets?all=1", "/pallets/new?lines=FC26257L1A", "/pallets/" + gatetest.SSCC, "/pallets/" + gatetest.PalletID + "/break", "/balances", "/", "/lots", "/lots/new", "/lots/" + gatetest.LotID, "/lots/" + gatetest.RunningID, "/lots/" + gatetest.RunningID + "/draw", "/lots/" + gatetest.RunningID + "/rework", "/lots/" + gatetest.RunningID + "/close", "/lots/" + gatetest.LotID + "/net", "/lots/" + gatetest.RunningID + "/net", "/lots/" + gatetest.LotID + "/net/new", "/labels", "/shipments", "/shipments/new", "/returns/new", "/returns/new?shipment=shipments/5a100000-0000-4000-8000-000000000014&place=packLots/" + gatetest.LotID, "/returns/new?shipment=shipments/5a100000-0000-4000-8000-000000000014&place=stock/" + gatetest.StockID, "/loss?from=packLots/" + gatetest.RunningID, "/loss?of=jars&from=packLots/" + gatetest.LotID, "/lots/" + gatetest.RunningID + "?done=poured&mass=12.5&tank=T1"},
	"office1": {
		"/returns/" + gatetest.ReturnID + "/decide", "/returns/" + gatetest.BulkReturnID + "/decide", "/customers", "/customers/new?name=MARKET-HALL", "/orders", "/orders/new?customer=MARKET-HALL", "/orders/" + gatetest.SalesOrderID + "/cancel", "/sales", "/sales/new?shipment=shipments/5a100000-0000-4000-8000-000000000014",
		"/stock/" + gatetest.StockID, "/stock/" + gatetest.StockID + "/claims/approve?claim=organic", "/stock/" + gatetest.StockID + "/claims/withdraw?claim=organic", "/dock-terms", "/dock-terms/tare", "/dock-terms/deposit", "/questions", "/questions?all=1", "/questions/" + gatetest.QuestionID, "/questions/" + gatetest.QuestionID + "/answer", "/payouts/" + gatetest.PayoutID + "/ask",
		"/members/M-0012/charges", "/members/M-0012/charge", "/members/M-0012/loans", "/members/M-0012/loan", "/loans", "/loans/" + gatetest.LoanID, "/loans/" + gatetest.LoanID + "/pay",
		"/typed", "/members/M-0012/containers", "/members/M-0012/equity", "/runs/" + gatetest.ApprovedID + "/fairness",
		"/reviews/" + gatetest.ReviewID + "/resolve", "/drums/FC-04417/release", "/drums/FC-04490/retire", "/numbers", "/weighers", "/certificates/" + gatetest.CertificateID + "/appeal", "/appeals/" + gatetest.DecidedAppealID,
		"/balances?by=month", "/clearances", "/pallets", "/net-checks/" + gatetest.NetCheckID + "/release?lot=" + gatetest.LotID, "/lots/" + gatetest.LotID + "/net", "/tanks/new", "/labels/new", "/encumbrances", "/encumbrances/new", "/encumbrances/" + gatetest.LienID + "/end", "/encumbrances/" + gatetest.OrderID + "/release", "/accounts", "/accounts/new", "/payments", "/payments/new", "/payments/" + gatetest.BatchID,
		"/payments/" + gatetest.PaymentID + "/return?batch=" + gatetest.ReleasedID, "/runs/" + gatetest.ApprovedID + "/compare", "/runs/" + gatetest.ApprovedID + "/sensitivity", "/runs/" + gatetest.ApprovedID + "/members", "/books", "/members/import", "/members/M-0012/splits",
		"/members/M-0012/splits/new", "/members/M-0012/statements", "/members/M-0012/statements/2026/read", "/", "/members", "/members/new", "/members/M-0012", "/payouts/" + gatetest.PayoutID, "/payouts/" + gatetest.PayoutID + "/lines/1", "/unpriced", "/totals",
		"/schedules", "/schedules/new", "/schedules/" + gatetest.ScheduleID, "/tickets/" + gatetest.VoidTicketID, "/tickets/" + gatetest.VoidTicketID + "/approve", "/tickets?member=M-0012",
		"/pools", "/pools/new", "/pools/" + gatetest.PoolID, "/pools/" + gatetest.PoolID + "/entry", "/pools/" + gatetest.PoolID + "/carry", "/pools/" + gatetest.PoolID + "/sales", "/pools/" + gatetest.PoolID + "/progress", "/pools/" + gatetest.PoolID + "/prepare", "/runs/" + gatetest.RunID,
		"/trace?code=" + gatetest.LotCode, "/balance", "/write-offs", "/write-offs?all=1", "/write-offs/" + gatetest.WaitingOffID + "/decide", "/write-offs/" + gatetest.FoundOffID + "/decide",
	},
	"board1":     {"/loans/" + gatetest.ProposedID, "/loans/" + gatetest.ProposedID + "/approve", "/equity/redeem", "/members/M-0012/equity", "/", "/schedules/" + gatetest.DraftID, "/schedules/" + gatetest.DraftID + "/adopt", "/totals", "/stock", "/pools", "/pools/" + gatetest.PoolID, "/pools/" + gatetest.PoolID + "/adopt/" + gatetest.ProgressID, "/runs/" + gatetest.RunID, "/runs/" + gatetest.ApprovedID},
	"treasurer1": {"/", "/accounts/" + gatetest.AccountID + "/verify?holder=Sedge+Hollow+Apiary", "/payments/" + gatetest.BatchID, "/payments/" + gatetest.ReleasedID, "/pools", "/runs/" + gatetest.ApprovedID, "/members/M-0012"},
	"auditor1":   {"/heat/allowed", "/typed?from=2026-09-01&to=2026-09-14", "/samples/" + gatetest.BrokenCode, "/numbers?year=2025", "/weighers?from=2026-09-01&to=2026-09-14", "/duplicates", "/reviews", "/drums/FC-04491", "/", "/books?through_date=2026-09-30", "/runs/" + gatetest.ApprovedID + "/verify", "/payments", "/accounts", "/encumbrances", "/tanks", "/lots", "/charges/" + gatetest.ChargeID, "/trace?code=" + gatetest.LotCode, "/balance", "/members/M-0012/splits", "/tickets", "/bench", "/certificates", "/stock", "/holds?all=1", "/totals", "/members", "/unpriced", "/schedules", "/scales"},
	"admin":      {"/", "/logins", "/logins/new", "/logins/admin", "/scales", "/scales/new"},
	"juniper": {
		"/payouts/" + gatetest.PayoutID + "/ask?line=1", "/questions", "/questions/" + gatetest.AnsweredID, "/members/M-0012/charges", "/members/M-0012/loans", "/loans/" + gatetest.LoanID,
		"/members/M-0012/equity", "/members/M-0012/containers", "/samples/" + gatetest.BrokenCode, "/deliveries", "/statements", "/members/M-0012/statements/2026/read", "/what-if", "/what-if?net=640&moisture_percent=17.8&variety=basswood&color_class=WHITE&grade=C", "/what-if?net=640&moisture_percent=17.8&variety=buckwheat",
		"/payouts/" + gatetest.PayoutID + "/what-if", "/payouts/" + gatetest.PayoutID + "/what-if?moisture_percent=17.8", "/me", "/payouts/" + gatetest.PayoutID, "/payouts/" + gatetest.PayoutID + "/lines/1", "/payouts/" + gatetest.PayoutID + "/lines/2", "/tickets",
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

// send posts a form as a page of ours would: with the hidden fields that page carries.
func send(t *testing.T, c *http.Client, address string, fields url.Values) (reply, string) {
	t.Helper()
	_, form := open(t, c, address)
	for _, name := range []string{"form_token", "request_id"} {
		if _, given := fields[name]; !given {
			fields.Set(name, hidden(t, form, name))
		}
	}
	return post(t, c, address, fields)
}

func post(t *testing.T, c *http.Client, address string, fields url.Values) (reply, string) {
	t.Helper()
	answer, err := c.PostForm(address, fields)
	require.NoError(t, err)
	body, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	return replyOf(answer), string(body)
}

// hidden reads the value of a hidden field.
func hidden(t *testing.T, form, name string) string {
	t.Helper()
	found := regexp.MustCompile(`name="`+name+`" value="([^"]*)"`).FindAllStringSubmatch(form, -1)
	require.NotEmpty(t, found, "%s in %s", name, form)
	return found[len(found)-1][1]
}

func TestPages_AreClosedWithoutASession(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	stranger := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for _, pages := range everyPage {
		for _, page := range pages {
			answer, _ := open(t, stranger, w.URL+page)
			require.Equal(t, http.StatusSeeOther, answer.StatusCode, page)
			require.True(t, strings.HasPrefix(answer.Header.Get("Location"), "/sign-in"), page)
		}
	}
	require.Empty(t, w.House.Asked(nil))
}

// Somebody whose roles do not suffice for the RPC behind a page is not shown the page, form or not.
func TestPages_AreShownByTheRolesOfTheirRPC(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	for login, pages := range map[string][]string{
		"juniper": {
			"/dock-terms", "/questions/" + gatetest.QuestionID + "/answer", "/members/M-0012/charge", "/members/M-0012/loan", "/loans/" + gatetest.LoanID + "/pay", "/loans/" + gatetest.ProposedID + "/approve",
			"/typed", "/portions", "/equity/redeem", "/runs/" + gatetest.ApprovedID + "/fairness", "/members/M-0012/containers/move", "/samples/" + gatetest.BrokenCode + "/record", "/tickets/" + gatetest.OpenTicketID + "/reject", "/tickets/" + gatetest.OpenTicketID + "/paper", "/barrels/" + gatetest.PaperID + "/confirm", "/dock", "/tickets/new", "/tickets/" + gatetest.OpenTicketID + "/weigh", "/tickets/" + gatetest.CloseTicketID + "/void", "/bench", "/stock", "/stock/list",
			"/holds", "/members", "/totals", "/members/M-0012/splits", "/encumbrances", "/accounts", "/payments", "/books", "/trace", "/blend", "/tanks", "/lots", "/members/import", "/runs/" + gatetest.RunID + "/members", "/schedules/new", "/certificates", "/certificates/" + gatetest.CertificateID, "/logins", "/scales/1/check",
		},
		"lab1":       {"/bias", "/views", "/composites/new", "/controls/new", "/bench/" + gatetest.MeasuredCode + "/dispose", "/members", "/tickets", "/totals", "/bench/" + gatetest.MeasuredCode + "/certify", "/stock/move", "/me", "/logins"},
		"dock1":      {"/bench", "/bench/" + gatetest.WaitingCode, "/totals", "/members/M-0012", "/tickets/" + gatetest.VoidTicketID + "/approve", "/logins/new"},
		"warehouse1": {"/write-offs/" + gatetest.WaitingOffID + "/decide", "/holds/" + gatetest.HoldID + "/release", "/members/M-0012", "/payouts/" + gatetest.PayoutID, "/schedules"},
		"auditor1":   {"/loss", "/write-offs/" + gatetest.WaitingOffID + "/decide", "/tickets/new", "/stock/move", "/schedules/" + gatetest.DraftID + "/adopt", "/bench/" + gatetest.WaitingCode + "/read", "/me"},
		"admin":      {"/dock", "/totals", "/members", "/tickets", "/stock", "/me"},
	} {
		client := w.Browser(login)
		for _, page := range pages {
			answer, body := open(t, client, w.URL+page)
			require.Equal(t, http.StatusForbidden, answer.StatusCode, "%s as %s", page, login)
			require.Contains(t, body, "This page is not for your login")
		}
	}
}

func TestPages_ANeighboursLookLikeNoneToTheByte(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	none, expected := open(t, client, w.URL+"/payouts/"+gatetest.UnknownPayoutID)
	require.Equal(t, http.StatusNotFound, none.StatusCode)
	require.NotContains(t, expected, gatetest.UnknownPayoutID)
	for _, page := range []string{
		"/payouts/" + gatetest.SedgePayoutID, "/payouts/" + gatetest.SedgePayoutID + "/lines/1", "/payouts/" + gatetest.PayoutID + "/lines/99",
		"/members/M-0007/containers", "/members/M-9999/containers", "/members/M-0007/charges", "/members/M-0007/loans", "/questions/" + gatetest.UnknownPayoutID, "/loans/" + gatetest.UnknownPayoutID, "/payouts/" + gatetest.SedgePayoutID + "/ask", "/members/M-0007/equity", "/members/M-9999/equity", "/samples/NONESUCH9", "/members/M-0007", "/members/M-9999", "/tickets/" + gatetest.SedgeTicketID, "/tickets/nothing", "/nowhere",
		"/members/M-0007/statements", "/members/M-0007/statements/2026/read", "/members/M-9999/statements", "/members/M-0012/statements/soon/read", "/payouts/" + gatetest.SedgePayoutID + "/what-if", "/payouts/" + gatetest.SedgePayoutID + "/what-if?moisture_percent=17.8",
	} {
		answer, body := open(t, client, w.URL+page)
		require.Equal(t, http.StatusNotFound, answer.StatusCode, page)
		require.Equal(t, expected, body, page)
		require.Len(t, answer.Header, len(none.Header), page)
	}
	for _, page := range []string{"/me", "/deliveries", "/statements", "/unpriced", "/tickets"} {
		answer, own := open(t, client, w.URL+page)
		require.Equal(t, http.StatusOK, answer.StatusCode, page)
		require.NotContains(t, own, "M-0007", page)
		require.NotContains(t, own, "Sedge", page)
		require.NotContains(t, own, "FC-03211", "a neighbour's waiting barrel on "+page)
		require.NotContains(t, own, gatetest.SedgeTicketID, page)
	}
}

func TestPages_CarryTheirProtection(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	for _, page := range append(everyPage["juniper"], "/sign-in", "/nowhere", "/payouts/"+gatetest.SedgePayoutID) {
		answer, body := open(t, client, w.URL+page)
		policy := answer.Header.Get("Content-Security-Policy")
		require.Equal(t, "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'", policy)
		require.Equal(t, "nosniff", answer.Header.Get("X-Content-Type-Options"))
		require.Equal(t, "DENY", answer.Header.Get("X-Frame-Options"))
		require.Equal(t, "no-store", answer.Header.Get("Cache-Control"))
		require.Equal(t, "same-origin", answer.Header.Get("Referrer-Policy"))
		// Nothing on a page names another host.
		for _, link := range regexp.MustCompile(`(?:href|src|action)="([^"]*)"`).FindAllStringSubmatch(body, -1) {
			require.Regexp(t, `^(/|#|\?)`, link[1], page)
			require.False(t, strings.HasPrefix(link[1], "//"), page)
		}
		require.NotContains(t, body, "style=")
		require.NotContains(t, body, "ZgotmplZ", "a value did not fit where the page put it")
	}
}

func TestStatic_IsKeptForEver(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, http.DefaultClient, w.URL+"/sign-in")
	for _, path := range regexp.MustCompile(`/static/[a-z0-9]+/[a-z.]+`).FindAllString(body, -1) {
		answer, _ := open(t, http.DefaultClient, w.URL+path)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		require.Contains(t, answer.Header.Get("Cache-Control"), "immutable")
		require.NotEmpty(t, answer.Header.Get("Content-Type"))
	}
	answer, _ := open(t, http.DefaultClient, w.URL+"/static/x/..%2fpages%2flayout.html")
	require.Equal(t, http.StatusNotFound, answer.StatusCode)
}
