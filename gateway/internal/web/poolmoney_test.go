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

const poolPage = "/pools/" + gatetest.PoolID

func TestProgress_IsProposedAndAdoptedByOthers(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office, board := w.Browser("office1"), w.Browser("board1")
	_, body := open(t, office, w.URL+poolPage)
	require.Contains(t, body, "$0.10 per\u00a0lb on 364,100.0\u00a0lb")
	require.Contains(t, body, "by Board 2027-01-14 no. 2")
	require.Contains(t, body, "proposed, pays nothing yet")
	require.NotContains(t, body, "/adopt/")
	answer, _ := send(t, office, w.URL+poolPage+"/progress", url.Values{"rate": {"0.05"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "0.05", last(t, w, &settlementv1.ProposeProgressRequest{}).GetRate().GetAmount())

	_, body = open(t, board, w.URL+poolPage)
	page := poolPage + "/adopt/" + gatetest.ProgressID
	require.Contains(t, body, page)
	_, body = open(t, board, w.URL+page)
	require.Contains(t, body, "$18,205.00")
	require.Contains(t, body, "$402,118.30")
	w.House.Refuse(&settlementv1.AdoptProgressRequest{}, apierr.State("progressPayments/1", "OWN_HONEY", "you have honey in this pool; another director records the resolution"))
	fields := url.Values{"resolution": {"Board 2027-03-04 no. 2"}}
	answer, body = send(t, board, w.URL+page, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "You have honey in this pool; another director records the resolution.")
	answer, _ = post(t, board, w.URL+page, fields)
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "Board 2027-03-04 no. 2", last(t, w, &settlementv1.AdoptProgressRequest{}).GetResolution())
}

func TestCarryOver_NamesThePoolThatTakesTheHoney(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := w.Browser("office1")
	_, body := open(t, office, w.URL+poolPage+"/carry")
	require.Contains(t, body, "Table honey 2027")
	answer, _ := send(t, office, w.URL+poolPage+"/carry", url.Values{
		"to_pool": {"pools/" + gatetest.OtherPoolID}, "amount": {"12,400.50"}, "description": {"112 barrels"}, "document": {"Board 2027-05-02 no. 3"}, "entry_date": {"2026-09-01"},
	})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	sent := last(t, w, &settlementv1.CarryOverRequest{})
	require.Equal(t, []string{"pools/" + gatetest.PoolID, "pools/" + gatetest.OtherPoolID, "12400.50"}, []string{sent.GetPool(), sent.GetToPool(), sent.GetAmount().GetAmount()})
}
