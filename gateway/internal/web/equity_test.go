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
	_, body := open(t, w.Browser("board1"), w.URL+"/runs/"+gatetest.ClosedID+"/fairness")
	require.Contains(t, body, "2 groups are hidden, so that no single member can be read out of them.")
	require.Contains(t, body, "$1.871204 per\u00a0lb")
	require.NotContains(t, body, "M-00")
}

// Members are compared in the run that closed the pool and in no other; a page offers what can be had.
func TestRun_OffersTheComparisonOnceReleased(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	board := w.Browser("board1")
	_, body := open(t, board, w.URL+"/runs/"+gatetest.RunID)
	require.NotContains(t, body, "/fairness")
	_, body = open(t, board, w.URL+"/runs/"+gatetest.ClosedID)
	require.Contains(t, body, "/runs/"+gatetest.ClosedID+"/fairness")
}

func TestEncumbrances_EndWhenAllHaveLetGo(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := w.Browser("office1")
	_, body := open(t, office, w.URL+"/encumbrances")
	require.Contains(t, body, "Released by creditor: P. Vale, 10 Sep 2026, Release, file 12")
	require.Contains(t, body, "Counts until released by the member")
	require.Contains(t, body, "100.0 % of crop year 2026 up to $12,000.00")
	require.Contains(t, body, "/encumbrances/"+gatetest.OrderID+"/release")
	require.NotContains(t, body, "/encumbrances/"+gatetest.OrderID+"/end")
	require.Contains(t, body, "/encumbrances/"+gatetest.LienID+"/end", "what was never resolved needs no release")
	page := w.URL + "/encumbrances/" + gatetest.OrderID + "/release"
	w.House.Refuse(&settlementv1.RecordEncumbranceReleaseRequest{}, apierr.State("encumbrances/"+gatetest.OrderID, "RELEASED", "the release of the member is recorded already"))
	fields := url.Values{"party": {"MEMBER"}, "signer": {"J. Ridge"}, "sign_date": {"2026-09-12"}, "document": {"Release, file 13"}}
	answer, body := send(t, office, page, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "The release of the member is recorded already.")
	answer, _ = post(t, office, page, fields)
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	sent := last(t, w, &settlementv1.RecordEncumbranceReleaseRequest{})
	require.Equal(t, settlementv1.ReleaseParty_RELEASE_PARTY_MEMBER, sent.GetParty())
	require.Equal(t, []string{"J. Ridge", "2026-09-12", "Release, file 13"}, []string{sent.GetSigner(), sent.GetSignDate(), sent.GetDocument()})
}

func TestEncumbrances_NameACropYearOrNone(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := w.Browser("office1")
	for typed, want := range map[string]int32{"": 0, "2026": 2026, "last": -1, "0": -1} {
		send(t, office, w.URL+"/encumbrances/new", url.Values{
			"member": {"M-0012"}, "kind": {"LIEN"}, "creditor": {"Valley Growers Credit"}, "percent": {"50"}, "crop_year": {typed}, "document": {"Notice of 2026-09-12"},
			"receive_date": {"2026-09-12"},
		})
		require.Equal(t, want, last(t, w, &settlementv1.RegisterEncumbranceRequest{}).GetEncumbrance().GetCropYear(), typed)
	}
}

func TestStatement_ShowsScaleContainersAndCapital(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("juniper"), w.URL+"/members/M-0012/statements/2026/read")
	for _, want := range []string{
		"686.0\u00a0lb", "46.0\u00a0lb", "Barrel FC-04433: weighed again, the barrel and its drum came to 683.0 lb and not 684.0 lb", "your part is 66.6667 %",
		"15 containers out, steel closed head", "24 handed out, 9 came back, 1 said to be lost", "$375.00", "Owed back", "so $9.60 is owed back",
		"Pool Table honey 2026, still open", "<dd>81.2 %</dd>", "Estimated by trial run R-2026-01 of", "<dt>Average grade of the pool</dt><dd>A</dd>",
		"<dt>Average colour of the pool</dt><dd>extra light amber</dd>", "14 Mill Road, Fallow Creek", "555-0142", "office@fallowcreek.example",
	} {
		require.Contains(t, body, want)
	}
}
