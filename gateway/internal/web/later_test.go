package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

func TestVerify_NeedsNoLogin(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	answer, body := open(t, plain(), w.URL+"/verify/"+gatetest.CertificateID)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, "Certificate G-2026-000412 is ours and stands.")
	require.NotContains(t, body, "Sign out")
	require.Empty(t, w.House.Asked(&gradingv1.VerifyCertificateRequest{})[0].Actor.Login, "nobody is vouched for")
	_, body = open(t, w.Browser("juniper"), w.URL+"/verify/"+gatetest.CertificateID)
	require.Contains(t, body, `href="/standards#`, "a member goes on to the rule")
	require.Empty(t, w.House.Asked(&gradingv1.VerifyCertificateRequest{})[1].Actor.Login, "the laboratory does not learn who asked")
	answer, _ = open(t, plain(), w.URL+"/verify/nothing")
	require.Equal(t, http.StatusNotFound, answer.StatusCode)
}

func TestStatement_IsAFileForItsMemberOnly(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	answer, body := open(t, client, w.URL+"/members/M-0012/statements/2026.pdf")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Equal(t, "application/pdf", answer.Header.Get("Content-Type"))
	require.Equal(t, `attachment; filename=statement-M-0012-2026.pdf`, answer.Header.Get("Content-Disposition"))
	require.Equal(t, "%PDF-1.7 of members/M-0012", body)
	_, none := open(t, client, w.URL+"/nowhere")
	for _, page := range []string{"/members/M-0007/statements/2026.pdf", "/members/M-0012/statements/2026.docx", "/members/M-0012/statements/x.pdf"} {
		answer, body = open(t, client, w.URL+page)
		require.Equal(t, http.StatusNotFound, answer.StatusCode, page)
		require.Equal(t, none, body)
	}
	answer, _ = open(t, plain(), w.URL+"/members/M-0012/statements/2026.pdf")
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
}

func TestRun_IsApprovedByTheFingerprintThatWasShown(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	board := w.Browser("board1")
	page := w.URL + "/runs/" + gatetest.RunID
	_, body := open(t, board, page)
	require.Contains(t, body, gatetest.Fingerprint)
	require.NotContains(t, body, "What changed", "the first run of a pool has nothing before it")
	answer, _ := send(t, board, page, url.Values{"do": {"approve"}, "fingerprint": {hidden(t, body, "fingerprint")}, "minutes": {"Board 2027-08-02 no. 1"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	approved := last(t, w, &settlementv1.ApproveRunRequest{})
	require.Equal(t, gatetest.Fingerprint, approved.GetFingerprint())
	require.Equal(t, "runs/"+gatetest.RunID, approved.GetName())
	answer, _ = send(t, board, page, url.Values{"do": {"abstain"}, "minutes": {"Board 2027-08-02 no. 1"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	last(t, w, &settlementv1.AbstainFromRunRequest{})

	_, body = open(t, board, w.URL+"/runs/"+gatetest.ApprovedID)
	require.NotContains(t, body, "Release the finals", "the board does not release money")
	require.Contains(t, body, `/runs/`+gatetest.ApprovedID+`/compare">What changed`)
	treasurer := w.Browser("treasurer1")
	page = w.URL + "/runs/" + gatetest.ApprovedID
	answer, _ = send(t, treasurer, page, url.Values{"do": {"release"}, "fingerprint": {gatetest.Fingerprint}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, gatetest.Fingerprint, last(t, w, &settlementv1.ReleaseRunRequest{}).GetFingerprint())
	_, body = open(t, treasurer, w.URL+"/runs/"+gatetest.RunID)
	require.NotContains(t, body, "Approve exactly this run")
}

func TestRun_SaysHowMuchHangsOnGuesses(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	treasurer := w.Browser("treasurer1")
	page := "/runs/" + gatetest.RunID + "/sensitivity"
	_, body := open(t, treasurer, w.URL+"/runs/"+gatetest.RunID)
	require.Contains(t, body, page)
	_, body = open(t, treasurer, w.URL+page)
	for _, want := range []string{
		"Unsold honey worth 5 % more", "$1.41403", "$618.15", "Expenses $0.01 more for each lb", "AMBER, grade B would be priced at -0.00767", "at $12,400.50",
	} {
		require.Contains(t, body, want)
	}
}

func TestPool_IsOpenedBookedAndCalculated(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := w.Browser("office1")
	answer, body := send(t, office, w.URL+"/pools/new", url.Values{
		"crop_year": {"2026"}, "title": {"Table honey 2026"}, "varieties": {"Clover, basswood"}, "differentials": {"any; white; A; 0.00\nany; amber; B; -0.12"},
	})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, body)
	pool := last(t, w, &settlementv1.OpenPoolRequest{}).GetPool()
	require.Equal(t, []string{"clover", "basswood"}, pool.GetVarieties())
	require.Equal(t, "-0.12", pool.GetDifferentials()[1].GetAmount().GetAmount())
	answer, body = send(t, office, w.URL+"/pools/"+gatetest.PoolID+"/entry", url.Values{
		"kind": {"EXPENSE"}, "amount": {"$98,212.40"}, "description": {"Packing"}, "document": {"Ledger"}, "entry_date": {"2027-05-31"},
	})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, body)
	entry := last(t, w, &settlementv1.RecordPoolEntryRequest{}).GetEntry()
	require.Equal(t, "98212.40", entry.GetAmount().GetAmount())
	require.Equal(t, settlementv1.PoolEntryKind_POOL_ENTRY_KIND_EXPENSE, entry.GetKind())
	back := url.Values{"kind": {"EXPENSE"}, "effect": {"BACK"}, "amount": {"98,212.40"}, "description": {"Packing, booked twice"}, "document": {"Ledger"}, "entry_date": {"2027-06-01"}}
	send(t, office, w.URL+"/pools/"+gatetest.PoolID+"/entry", back)
	require.Equal(t, "-98212.40", last(t, w, &settlementv1.RecordPoolEntryRequest{}).GetEntry().GetAmount().GetAmount(), "without a sign to know")
	back.Set("amount", "640,50")
	back.Del("request_id")
	answer, _ = send(t, office, w.URL+"/pools/"+gatetest.PoolID+"/entry", back)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, "and not a hundred times as much")
	answer, _ = send(t, office, w.URL+"/pools/"+gatetest.PoolID+"/prepare", url.Values{})
	require.Equal(t, "/runs/"+gatetest.RunID, answer.Header.Get("Location"))
}

func TestControl_SaysWhetherTheBenchIsOpen(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("lead1")
	_, body := open(t, client, w.URL+"/controls")
	require.Contains(t, body, "1 factor is closed. Results since the last good run wait.")
	answer, body := send(t, client, w.URL+"/controls/"+gatetest.ControlID+"/run", url.Values{"kind": {"REFRACTIVE_INDEX"}, "raw_value": {"1,4910"}})
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, "Control 17.52 against its target: PASS.")
	require.Equal(t, "1.4910", last(t, w, &gradingv1.RecordControlRunRequest{}).GetRawValue())
	answer, _ = send(t, client, w.URL+"/controls/"+gatetest.ControlRunID+"/confirm", url.Values{"reason": {"the jar was spoiled"}})
	require.Equal(t, "/controls", answer.Header.Get("Location"))
	require.Equal(t, "controlRuns/"+gatetest.ControlRunID, last(t, w, &gradingv1.ConfirmResultsRequest{}).GetControlRun())
}

func TestTrace_TakesACodeOrATag(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	for _, code := range []string{gatetest.LotCode, "fc-04417", "t1-26-003"} {
		_, body := open(t, client, w.URL+"/trace?code="+code)
		require.Contains(t, body, "from 2 barrels of 2 members; 100.0&nbsp;% accounted for", code)
		require.Contains(t, body, "Market Hall Larder")
	}
	_, body := open(t, client, w.URL+"/trace?code=nothing")
	require.Contains(t, body, "Nothing goes by the code NOTHING: no lot, no charge, no pallet and no drum. Check it and try again.")
}
