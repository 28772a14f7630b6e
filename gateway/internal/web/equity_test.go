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

func TestEquity_IsTheMembersAndGivenBackByTheBoard(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("juniper"), w.URL+"/members/M-0012/equity")
	require.Contains(t, body, "$86.39")
	require.Contains(t, body, "This is not tax advice, and no promise of when capital is given back.")

	board := w.Browser("board1")
	w.House.Refuse(&settlementv1.RedeemEquityRequest{}, apierr.State("equity/2026", "NOT_OLDEST", "crop year 2025 still has a balance and comes first"))
	fields := url.Values{"crop_year": {"2026"}, "percent": {"50"}, "resolution": {"Board 2027-03-04 no. 2"}}
	answer, body := send(t, board, w.URL+"/equity/redeem", fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "Crop year 2025 still has a balance and comes first.")
	require.Contains(t, body, `value="Board 2027-03-04 no. 2"`)
	fields.Set("crop_year", "2025")
	answer, body = send(t, board, w.URL+"/equity/redeem", fields)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, "$1,204.10")
	require.Equal(t, int32(2025), last(t, w, &settlementv1.RedeemEquityRequest{}).GetCropYear())
}

func TestFairness_HidesWhoCouldBeTold(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("board1"), w.URL+"/runs/"+gatetest.ApprovedID+"/fairness")
	require.Contains(t, body, "2 groups are hidden, so that no single member can be read out of them.")
	require.Contains(t, body, "$1.871204 per\u00a0lb")
	require.NotContains(t, body, "M-00")
}
