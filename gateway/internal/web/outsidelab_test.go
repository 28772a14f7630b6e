package web_test

import (
	"net/http"
	"net/url"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

func TestComposite_TakesCodesAsTheyAreScanned(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	answer, _ := send(t, w.Browser("lead1"), w.URL+"/composites/new", url.Values{"samples": {"h2vk8pwd3, samples/N5RCJT7Y9\r\nT3FN4HQX6"}, "grams_each": {"12,5"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	sent := last(t, w, &gradingv1.CreateCompositeRequest{})
	require.Equal(t, []string{"samples/H2VK8PWD3", "samples/N5RCJT7Y9", "samples/T3FN4HQX6"}, sent.GetSamples())
	require.Equal(t, "12.5", sent.GetGramsEach())
	_, body := open(t, w.Browser("lab1"), w.URL+"/composites/"+gatetest.CompositeCode)
	for _, part := range []string{"1 to test, 1 cleared, 1 confirmed", "Test it singly for tylosin", "/outside/new?sample=" + gatetest.WaitingCode} {
		require.Contains(t, body, part)
	}
	require.NotContains(t, body, "/dispose", "the lead decides")
}

func TestOutsideResult_IsKeyedTwiceAsPrinted(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	first := w.Browser("lab1")
	answer, _ := send(t, first, w.URL+"/outside/new", url.Values{"sample": {"h2vk8pwd3"}, "analyte": {"TYLOSIN"}, "value": {"< 0,3"}, "laboratory": {"Ridge Analytical"}, "report": {"R-1"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	keyed := last(t, w, &gradingv1.KeyOutsideResultRequest{})
	require.Equal(t, "samples/H2VK8PWD3", keyed.GetSample())
	require.Equal(t, "< 0.3", keyed.GetValue())
	_, own := open(t, first, w.URL+"/outside")
	require.NotContains(t, own, "Key it again", "nobody confirms what they keyed")
	second := w.Browser("lead1")
	_, other := open(t, second, w.URL+"/outside")
	require.Contains(t, other, "/outside/"+gatetest.KeyedResultID+"/confirm")
	answer, _ = send(t, second, w.URL+"/outside/"+gatetest.KeyedResultID+"/confirm", url.Values{"value": {"<0.3"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "outsideResults/"+gatetest.KeyedResultID, last(t, w, &gradingv1.ConfirmOutsideResultRequest{}).GetName())
	answer, _ = send(t, second, w.URL+"/outside/"+gatetest.KeyedResultID+"/withdraw", url.Values{"reason": {"another jar"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "another jar", last(t, w, &gradingv1.WithdrawOutsideResultRequest{}).GetReason())
	answer, _ = open(t, second, w.URL+"/outside/nothing/confirm")
	require.Equal(t, http.StatusNotFound, answer.StatusCode)
}

func TestOutsideImport_IsCheckedFirst(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("lab1")
	page := w.URL + "/outside/import"
	body := upload(t, client, page, "broken")
	require.Contains(t, body, "The first line must be sample,analyte,value,laboratory,report")
	require.NotContains(t, body, "Key them")
	body = upload(t, client, page, "a file")
	require.Contains(t, body, "No fault. 2 figures would be keyed.")
	require.True(t, last(t, w, &gradingv1.ImportOutsideResultsRequest{}).GetDryRun())
	fields := url.Values{"content": {hidden(t, body, "content")}, "form_token": {hidden(t, body, "form_token")}, "request_id": {hidden(t, body, "request_id")}}
	answer, body := post(t, client, page, fields)
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, "2 figures were keyed.")
	sent := last(t, w, &gradingv1.ImportOutsideResultsRequest{})
	require.False(t, sent.GetDryRun())
	require.Equal(t, "a file", string(sent.GetContent()), "the very bytes that were checked")
}

func TestLead_DecidesOnResiduesAndControls(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("lead1")
	answer, _ := send(t, client, w.URL+"/bench/"+gatetest.MeasuredCode+"/dispose", url.Values{"disposition": {"DESTROY"}, "reason": {"before a witness"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, gradingv1.Disposition_DISPOSITION_DESTROY, last(t, w, &gradingv1.DisposeSampleRequest{}).GetDisposition())
	answer, _ = send(t, client, w.URL+"/controls/"+gatetest.ControlID+"/retire", url.Values{"reason": {"used up"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "controls/"+gatetest.ControlID, last(t, w, &gradingv1.RetireControlRequest{}).GetControl())
	answer, _ = send(t, client, w.URL+"/controls/new", url.Values{"control_id": {"ch-2027-1"}, "factor": {"COLOR"}, "material": {"coloured glycerol"}, "target": {"42,5"}, "sigma": {"1"}, "run_count": {"24"}})
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	made := last(t, w, &gradingv1.CreateControlRequest{})
	require.Equal(t, "CH-2027-1 FACTOR_COLOR 42.5 24", made.GetControlId()+" "+made.GetFactor().String()+" "+made.GetTarget()+" "+strconv.Itoa(int(made.GetRunCount())))
}
