package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

func TestYearEnd_PagesShowTheirFiguresAndCaution(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office, juniper := w.Browser("office1"), w.Browser("juniper")
	for path, want := range map[string][]string{
		"/tax":                     {"1 form to file for 2026", "Members must have theirs by", "/v1/taxRecords/2026.csv", "$38.40", "They are not tax advice."},
		"/tax?year=2025":           {"/v1/taxRecords/2025.csv"},
		"/members/M-0012/tax/2026": {"Box 3, Title of the box", "/v1/members/M-0012/taxRecords/2026.pdf", "They are not tax advice."},
		"/refunds":                 {"1 patronage refund", "$200.00 in money and $800.00 as capital", "placed a cent with M-0012", "not tax or legal advice"},
		"/hauling":                 {"Zone B", "Charge a delivery"},
		"/hauling/charge":          {"Which delivery did we fetch?"},
		"/assessment":              {"$185.18", "$0.015 per lb, from 1 Jan 2016 on. Source: 80 FR 22361 (22 Apr 2015), read there.", "The cooperative bears the assessment", "This is no legal advice"},
	} {
		answer, body := open(t, office, w.URL+path)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
		for _, text := range want {
			require.Contains(t, body, text, path)
		}
	}
	_, body := open(t, juniper, w.URL+"/members/M-0012/tax/2026")
	require.Contains(t, body, "Your tax figures for 2026")
	answer, _ := open(t, juniper, w.URL+"/members/M-0007/tax/2026")
	require.Equal(t, http.StatusNotFound, answer.StatusCode)
	answer, _ = open(t, juniper, w.URL+"/tax")
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
}

func TestYearEnd_ResolutionsOfTheBoard(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	board := w.Browser("board1")
	for _, path := range []string{"/refunds/new", "/retains/designate", "/hauling/new"} {
		answer, _ := open(t, board, w.URL+path)
		require.Equal(t, http.StatusOK, answer.StatusCode, path)
	}
	fields := url.Values{
		"crop_year": {"2026"}, "fiscal_year_end": {"2026-08-31"}, "total": {"$1,000.00"}, "cash_percent": {"19.99"}, "class": {"QUALIFIED"}, "consent": {"Bylaws, article 9"},
		"resolution": {"Annual meeting 2026, resolution 2"},
	}
	w.House.Refuse(&settlementv1.AllocatePatronageRequest{}, apierr.Field("cash_percent", "is 19.99; a qualified notice needs at least 20.0 in money (26 USC 1388(c)(1))"))
	answer, body := send(t, board, w.URL+"/refunds/new", fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "needs at least 20.0 in money")
	fields.Set("cash_percent", "20")
	_, _ = send(t, board, w.URL+"/refunds/new", fields)
	asked := last(t, w, &settlementv1.AllocatePatronageRequest{})
	require.Equal(t, "1000.00", asked.GetTotal().GetAmount())
	require.True(t, asked.GetQualified())
	_, _ = send(t, board, w.URL+"/retains/designate", url.Values{"crop_year": {"2026"}, "class": {"NONQUALIFIED"}, "resolution": {"Board 2026-11-02 no. 1"}})
	require.False(t, last(t, w, &settlementv1.DesignateRetainsRequest{}).GetQualified())
	_, _ = send(t, board, w.URL+"/hauling/new", url.Values{"zone": {"b"}, "effective_date": {"2026-07-01"}, "rate": {"0.02"}, "resolution": {"Board 2026-06-14 no. 5"}})
	require.Equal(t, "B", last(t, w, &settlementv1.SetHaulingRateRequest{}).GetHaulingRate().GetZone())
	answer, body = send(t, w.Browser("office1"), w.URL+"/hauling/charge", url.Values{"ticket_number": {"fc-2026-000077"}, "zone": {"b"}})
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, "641.0 lb × $0.0201 = $12.88")
	require.Equal(t, "FC-2026-000077", last(t, w, &settlementv1.ChargeHaulingRequest{}).GetTicketNumber())
}

func TestStatementOnPaper_IsCheckedByAnybody(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	stranger := &http.Client{}
	_, body := open(t, stranger, w.URL+"/verify-statement")
	require.Contains(t, body, "Is a statement what we printed?")
	_, body = open(t, stranger, w.URL+"/verify-statement?code=0123+4567+89AB+CDEF")
	require.Contains(t, body, "It is ours and the latest.")
	require.Contains(t, body, "M-0012/2026/1")
	_, body = open(t, stranger, w.URL+"/verify-statement?code=fedcba9876543210")
	require.Contains(t, body, "This is not ours.")
	answer, body := open(t, stranger, w.URL+"/verify-statement?code=1")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, "must be 16 characters")
}
