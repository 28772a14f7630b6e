package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
)

func TestLoss_SaysWhatWasBookedAndAsksForWhatWasNotFound(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	charge := "/charges/" + gatetest.ChargeID
	answer, _ := send(t, client, w.URL+"/loss?from=charges/"+gatetest.ChargeID, url.Values{"from": {"charges/" + gatetest.ChargeID}, "mass": {"20,5"}, "code": {"FLUSH"}, "reason": {"line flushed"}})
	require.Equal(t, charge+"?as=FLUSH&done=lost&mass=20.5", answer.Header.Get("Location"))
	_, body := open(t, client, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "20.5\u00a0lb booked as lost: flushed from the line.")

	asked := url.Values{"from": {"charges/" + gatetest.ChargeID}, "mass": {"12.5"}, "code": {"UNEXPLAINED"}, "reason": {"dipped twice"}}
	answer, _ = send(t, client, w.URL+"/loss?from=charges/"+gatetest.ChargeID, asked)
	require.Equal(t, charge+"?done=asked&mass=12.5", answer.Header.Get("Location"))
	request := last(t, w, &inventoryv1.RequestWriteOffRequest{})
	require.Equal(t, []string{"charges/" + gatetest.ChargeID, "12.5", "dipped twice"}, []string{request.GetFrom(), request.GetMass().GetValue(), request.GetReason()})
	require.Len(t, w.House.Asked(&inventoryv1.RecordLossRequest{}), 1, "nothing more was booked")
	_, body = open(t, client, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "12.5\u00a0lb asked to be written off. Nothing changes until the office has decided.")
	require.Contains(t, body, "Dipped twice, the gauge agrees.", "what waits stands on the page of its place")
	require.NotContains(t, body, "/write-offs/", "who asks does not decide")
	require.Contains(t, body, "Of that, 4.0\u00a0lb asked to be written off", "of what is left of the charge before")

	answer, _ = send(t, client, w.URL+"/loss?from=packLots/"+gatetest.LotID, url.Values{"from": {"packLots/" + gatetest.LotID}, "of": {"jars"}, "jars": {"3"}, "code": {"UNEXPLAINED"}, "reason": {"not on the shelf"}})
	require.Equal(t, "/lots/"+gatetest.LotID+"?done=asked&jars=3&mass=12.5", answer.Header.Get("Location"))
	require.Equal(t, int64(3), last(t, w, &inventoryv1.RequestWriteOffRequest{}).GetJars())
	require.Nil(t, last(t, w, &inventoryv1.RequestWriteOffRequest{}).GetMass())
	w.House.Refuse(&inventoryv1.RecordLossRequest{}, apierr.Field("mass", "stock/"+gatetest.StockID+" holds 624.0 lb by the books and 9,000.0 lb cannot be taken from it: 8,376.0 lb more is unexplained"))
	_, body = send(t, client, w.URL+"/loss?from=stock/"+gatetest.StockID, url.Values{"from": {"stock/" + gatetest.StockID}, "mass": {"9,000"}, "code": {"SPILL"}, "reason": {"a lid came off"}})
	require.Contains(t, body, "arrel FC-04417 holds 624.0 lb by the books and 9,000.0 lb cannot be taken from it: 8,376.0 lb more is unexplained.")
	require.Equal(t, "9000", last(t, w, &inventoryv1.RecordLossRequest{}).GetMass().GetValue())
	answer, _ = open(t, client, w.URL+"/loss")
	require.Equal(t, "/stock", answer.Header.Get("Location"), "what is lost is lost from somewhere")
	for _, forged := range []string{"?done=lost&mass=x&as=FLUSH", "?done=lost&mass=1&as=THEFT", "?done=sold&mass=1", "?done=asked&mass=-1"} {
		_, body = open(t, client, w.URL+charge+forged)
		require.NotContains(t, body, "note-ok", forged)
	}
}

func TestRework_SaysWhatWasPouredBack(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("line1")
	lot := "/lots/" + gatetest.RunningID
	answer, _ := send(t, client, w.URL+lot+"/rework", url.Values{"charge": {"charges/" + gatetest.ChargeID}, "mass": {"40.5"}})
	require.Equal(t, lot+"?done=poured&mass=40.5&tank=T1", answer.Header.Get("Location"))
	_, body := open(t, client, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "40.5\u00a0lb poured back into tank T1.")
	answer, _ = send(t, client, w.URL+lot+"/draw", url.Values{"charge": {"charges/" + gatetest.ChargeID}, "mass": {"1,200"}})
	_, body = open(t, client, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "1,200.0\u00a0lb drawn from tank T1.")
}

func TestCharge_IsClosedOnlyWhereItIsEmpty(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/charges/"+gatetest.ChargeID)
	require.NotContains(t, body, "/close\"")
	require.Contains(t, body, "8,420.5\u00a0lb has to be packed, pumped on, kept as a heel, or booked as lost first.")
	_, body = open(t, client, w.URL+"/charges/"+gatetest.EmptyID)
	require.Contains(t, body, "/charges/"+gatetest.EmptyID+"/close\"")
	require.NotContains(t, body, "has to be packed")
}

func TestWriteOffs_AreDecidedByTheOffice(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office, floor, auditor := w.Browser("office1"), w.Browser("warehouse1"), w.Browser("auditor1")
	_, body := open(t, floor, w.URL+"/write-offs")
	require.Contains(t, body, "2 write-offs wait for the office")
	require.Contains(t, body, "You asked; somebody else decides.")
	require.NotContains(t, body, "/decide")
	require.NotContains(t, body, "It stands at the dock.", "what is decided does not wait")
	_, body = open(t, auditor, w.URL+"/write-offs?all=1")
	require.Contains(t, body, "It stands at the dock.")
	require.Contains(t, body, "Declined by office1")
	require.NotContains(t, body, "/decide")
	decide := w.URL + "/write-offs/" + gatetest.WaitingOffID + "/decide"
	withdraw := w.URL + "/write-offs/" + gatetest.WaitingOffID + "/withdraw"
	answer, _ := open(t, auditor, withdraw)
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
	for _, other := range []*http.Client{floor, auditor, w.Browser("line1")} {
		answer, _ = open(t, other, decide)
		require.Equal(t, http.StatusForbidden, answer.StatusCode)
	}

	_, body = open(t, office, w.URL+"/write-offs")
	require.Contains(t, body, "/write-offs/"+gatetest.WaitingOffID+"/decide")
	_, body = open(t, office, decide)
	require.Contains(t, body, "Write off 12.5\u00a0lb of T1-26-003")
	require.Contains(t, body, "warehouse1 asked on")
	require.NotContains(t, body, "Less is there")
	_, body = open(t, office, w.URL+"/write-offs/"+gatetest.FoundOffID+"/decide")
	require.Contains(t, body, "Less is there than was asked for")
	require.NotContains(t, body, "write it off</label>", "what cannot be done is not offered")
	answer, body = send(t, office, decide, url.Values{"decision": {"DECLINED"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "say why the honey stays in the books")
	w.House.Refuse(&inventoryv1.DecideWriteOffRequest{}, apierr.SamePerson("users/office1", "users/office1 asked for this honey to be written off: another person of the office must decide"))
	_, body = send(t, office, decide, url.Values{"decision": {"APPROVED"}})
	require.Contains(t, body, "another person of the office must decide")
	answer, _ = send(t, office, decide, url.Values{"decision": {"APPROVED"}, "reason": {"seen the dip sheet"}})
	require.Equal(t, "/write-offs?done=approved&mass=12.5", answer.Header.Get("Location"))
	decided := last(t, w, &inventoryv1.DecideWriteOffRequest{})
	require.Equal(t, "writeOffs/"+gatetest.WaitingOffID, decided.GetName())
	require.Equal(t, inventoryv1.WriteOffState_WRITE_OFF_STATE_APPROVED, decided.GetDecision())
	require.Equal(t, "seen the dip sheet", decided.GetReason())
	_, body = open(t, office, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "12.5\u00a0lb written off.")
	answer, _ = send(t, office, decide, url.Values{"decision": {"DECLINED"}, "reason": {"dip it again"}})
	require.Equal(t, "/write-offs?done=declined&mass=12.5", answer.Header.Get("Location"))

	_, body = open(t, floor, w.URL+"/balances?by=run")
	require.Contains(t, body, "Asked to be written off, not decided")
	_, body = open(t, office, w.URL+"/charges/"+gatetest.ChargeID)
	require.Contains(t, body, "/write-offs/"+gatetest.WaitingOffID+"/decide")
	_, body = open(t, floor, w.URL+"/stock/"+gatetest.StockID)
	require.Contains(t, body, "/loss?from=stock%2f"+gatetest.StockID)
}

func TestWriteOffs_AreTakenBackByWhoAskedOrTheOffice(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	floor := w.Browser("warehouse1")
	path := "/write-offs/" + gatetest.WaitingOffID + "/withdraw"
	_, body := open(t, w.Browser("line1"), w.URL+"/write-offs?all=1")
	require.NotContains(t, body, path, "what another person of the floor asked for")
	_, body = open(t, w.Browser("office1"), w.URL+"/write-offs?all=1")
	require.Contains(t, body, path)
	_, body = open(t, floor, w.URL+"/write-offs?all=1")
	require.Contains(t, body, path)
	require.NotContains(t, body, "/write-offs/"+gatetest.DeclinedOffID+"/withdraw", "what is decided stays so")
	_, body = open(t, floor, w.URL+path)
	require.Contains(t, body, "No longer write off 12.5\u00a0lb of T1-26-003")
	require.Contains(t, body, "Dipped twice, the gauge agrees.")
	w.House.Refuse(&inventoryv1.WithdrawWriteOffRequest{}, apierr.Reason(errorv1.Reason_REASON_STATE_FORBIDS, "it was approved by users/office1 already", nil))
	answer, body := send(t, floor, w.URL+path, url.Values{"reason": {"it turned up"}})
	require.NotEqual(t, http.StatusSeeOther, answer.StatusCode)
	require.Contains(t, body, "It was approved by office1 already.")
	answer, _ = send(t, floor, w.URL+path, url.Values{"reason": {"it turned up"}})
	require.Equal(t, "/write-offs?done=withdrawn&mass=12.5", answer.Header.Get("Location"))
	taken := last(t, w, &inventoryv1.WithdrawWriteOffRequest{})
	require.Equal(t, []string{"writeOffs/" + gatetest.WaitingOffID, "it turned up"}, []string{taken.GetName(), taken.GetReason()})
	_, body = open(t, floor, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "12.5\u00a0lb no longer asked to be written off: the books stay as they are.")
}
