package web_test

import (
	"fmt"
	"html"
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/gateway/internal/gatetest"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/apierr"
)

// last is the newest request of a type the house was asked.
func last[T proto.Message](t *testing.T, w *gatetest.World, like T) T {
	t.Helper()
	asked := w.House.Asked(like)
	require.NotEmpty(t, asked)
	request, ok := asked[len(asked)-1].Request.(T)
	require.True(t, ok)
	return request
}

const weighPage = "/tickets/" + gatetest.OpenTicketID + "/weigh"

func weighing() url.Values {
	return url.Values{
		"drum_tag": {"fc-04433"}, "gross": {"682,0"}, "tare": {"40.5"}, "tare_kind": {"STENCILLED"}, "variety": {"basswood"}, "scale": {"scales/1"}, "typed": {"yes"},
	}
}

func TestWeigh_TakesTheWeightFromTheScale(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	fields := weighing()
	fields.Del("typed")
	fields.Del("gross")
	fields.Set("from", "scale")
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, apierr.ReasonRequired("net", "unusual", nil))
	answer, body := send(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	sent := last(t, w, &intakev1.WeighBarrelRequest{})
	require.Contains(t, sent.GetIndication(), "scales/1/indications/")
	require.Nil(t, sent.GetGross(), "the weight is the captured one")
	require.False(t, sent.GetManual())
	taken := len(w.House.Asked(&intakev1.CaptureIndicationRequest{}))

	for _, name := range []string{"captured", "indication", "seal"} {
		fields.Set(name, html.UnescapeString(hidden(t, body, name)))
	}
	fields.Set("reason", "half-full top-off barrel")
	forged := maps.Clone(fields)
	forged.Set("captured", "999.0")
	answer, _ = post(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	again := last(t, w, &intakev1.WeighBarrelRequest{})
	require.Equal(t, "half-full top-off barrel", again.GetReason())
	require.Equal(t, sent.GetIndication(), again.GetIndication(), "the weight that was asked about, not what stands there now")
	require.Len(t, w.House.Asked(&intakev1.CaptureIndicationRequest{}), taken)

	post(t, client, w.URL+weighPage, forged)
	require.NotEqual(t, sent.GetIndication(), last(t, w, &intakev1.WeighBarrelRequest{}).GetIndication(), "a weight changed on the way is taken anew")
}

func TestWeigh_WaitsWhileTheScaleMoves(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	fields := weighing()
	fields.Del("typed")
	fields.Set("from", "scale")
	_, form := open(t, client, w.URL+weighPage)
	fields.Set("form_token", hidden(t, form, "form_token"))
	fields.Set("request_id", hidden(t, form, "request_id"))
	moving := apierr.Reason(errorv1.Reason_REASON_UNSTABLE_READING, "scale 1 is moving: wait until it stands still", map[string]string{"state": "MOVING"})
	w.House.Refuse(&intakev1.CaptureIndicationRequest{}, moving)
	answer, body := post(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "Scale 1 is moving: wait until it stands still.")
	require.Empty(t, w.House.Asked(&intakev1.WeighBarrelRequest{}))
}

func TestWeigh_NeverSaysThatAStuckScaleMayHaveSaved(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	fields := weighing()
	fields.Del("typed")
	fields.Set("from", "scale")
	stuck := "scale 1 shows 682.0 lb since the barrel before: it is stuck, or that barrel is still on it"
	w.House.Refuse(&intakev1.CaptureIndicationRequest{}, apierr.New(codes.Unavailable, errorv1.Reason_REASON_UNAVAILABLE, stuck, map[string]string{"state": "STUCK"}))
	answer, body := send(t, w.Browser("dock1"), w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "it is stuck, or that barrel is still on it.")
	require.NotContains(t, body, "It may have been saved")
	require.Contains(t, body, `value="fc-04433"`)
	require.Empty(t, w.House.Asked(&intakev1.WeighBarrelRequest{}))
}

func TestWeigh_SaysPlainlyWhatTheScaleDoes(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	_, body := open(t, client, w.URL+weighPage)
	require.Contains(t, body, `<p class="shown-word">Stands still</p>`)
	require.Contains(t, body, "shown shown-still")
	for state, said := range map[intakev1.IndicationState]string{
		intakev1.IndicationState_INDICATION_STATE_STUCK: "Stuck", intakev1.IndicationState_INDICATION_STATE_OVER_RANGE: "Too heavy", intakev1.IndicationState_INDICATION_STATE_UNDER_LOAD: "Below zero",
		intakev1.IndicationState_INDICATION_STATE_DISCONNECTED: "Not connected", intakev1.IndicationState_INDICATION_STATE_MOVING: "Moving: wait",
	} {
		w.House.Show(&intakev1.Indication{Scale: "scales/1", State: state, Message: "scale 1 needs somebody"})
		_, body = open(t, client, w.URL+weighPage)
		require.Contains(t, body, `<p class="shown-word">`+said+`</p>`)
		require.Contains(t, body, "Scale 1 needs somebody.")
		require.NotContains(t, body, "shown-still", said)
	}
	stands := &intakev1.Indication{Scale: "scales/1", State: intakev1.IndicationState_INDICATION_STATE_STABLE, Message: "scale 1 stands still", Weight: pounds("682.0")}
	stands.StableSinceTime = timestamppb.New(gatetest.Opening.Add(-2 * time.Minute))
	w.House.Show(stands)
	_, body = open(t, client, w.URL+weighPage)
	require.Contains(t, body, `<p class="shown-word">Not moved</p>`, "the weight is still that of the barrel before")
	require.Contains(t, body, "Take that barrel off and put the next one on.")
}

func TestWeigh_OffersTypingWhereThereIsNoIndicator(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	_, body := open(t, client, w.URL+weighPage)
	require.Contains(t, body, `data-live="/v1/scales/1:watchIndication"`)
	require.NotContains(t, body, `id="f-gross"`)
	for _, page := range []string{"?scale=scales/2", "?typed=yes"} {
		_, body = open(t, client, w.URL+weighPage+page)
		require.Contains(t, body, `id="f-gross"`, page)
		require.NotContains(t, body, "data-live", page)
	}
}

func TestForm_SaysWhatIsWrongInTheWordsOfThePage(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	for _, c := range []struct {
		field, message string
		typed          url.Values
		said           []string
	}{
		{"gross.value", "is missing", nil, []string{"<p>Gross is missing.</p>", `id="h-gross">Is missing.</p>`}},
		{"barrels[2].tare.value", "is missing", nil, []string{"<p>Tare is missing.</p>", `id="h-tare">Is missing.</p>`}},
		{"gross.value", "the number is missing", nil, []string{"<p>Gross: the number is missing.</p>"}},
		{"gross", "the gross is -5.0 lb: it must be above zero", nil, []string{"<p>The gross is -5.0 lb: it must be above zero.</p>"}},
		{"reason", "is 0, must be at least 1 and at most 99", url.Values{"reason": {""}}, []string{"“Why it is right all the same” is missing: it must be at least 1 and at most 99."}},
		{"reason", "is 0; it must be from 1 to 99", url.Values{"reason": {"NaN"}}, []string{"“Why it is right all the same” is &#34;NaN&#34;: it must be from 1 to 99."}},
		{"reason", "is 0, must be at least 1 and at most 99", url.Values{"reason": {"00"}}, []string{"“Why it is right all the same” is 0, must be at least 1 and at most 99."}},
		{"tare_kind", "is missing, must be one of TARE_KIND_WEIGHED, TARE_KIND_STENCILLED", nil, []string{"<p>“Where the tare is from” is missing.</p>"}},
		{"tare_date", `"" is not a date such as 2026-07-01`, nil, []string{"Tare date is missing: give a date such as 1 Jul 2026."}},
		{"drum_tag", "nobody knows " + strings.Repeat("X", 10_000), nil, []string{"nobody knows " + strings.Repeat("X", 40) + "….</p>"}},
	} {
		fields := weighing()
		maps.Copy(fields, c.typed)
		w.House.Refuse(&intakev1.WeighBarrelRequest{}, apierr.Field(c.field, c.message))
		answer, body := send(t, client, w.URL+weighPage, fields)
		require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
		for _, said := range c.said {
			require.Contains(t, body, said)
		}
	}
	asked := len(w.House.Asked(&intakev1.WeighBarrelRequest{}))
	fields := weighing()
	fields.Set("variety", "sage \xff")
	answer, body := send(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
	require.Contains(t, body, "Variety holds characters that cannot be read; type it again.")
	require.Len(t, w.House.Asked(&intakev1.WeighBarrelRequest{}), asked)
	for page, said := range map[string]string{"/verify/%FF": "The address holds characters that cannot be read", "/tickets?state=%FF": "State holds characters that cannot be read; type it again.", "/logins/%00": "The address holds"} {
		answer, body = open(t, client, w.URL+page)
		require.Equal(t, http.StatusBadRequest, answer.StatusCode, page)
		require.Contains(t, html.UnescapeString(body), said)
	}
	w.House.Refuse(&intakev1.ListTicketsRequest{}, apierr.Fields(apierr.Fault{Field: "member", Message: "must not hold a NUL character"}, apierr.Fault{Field: "page_token", Message: "must not hold a NUL character"}))
	answer, body = open(t, client, w.URL+"/tickets?member=%00&page=%00")
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
	require.Contains(t, body, "Member holds a character that cannot be kept; type it again.")
	require.Contains(t, body, "Page of the list holds a character that cannot be kept")
	require.Contains(t, body, `href="/tickets">Open the page without it`)
}

func TestForm_OfAnotherPageIsRefused(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	for name, token := range map[string]string{"none": "", "another session's": "bm90IHRoZSB0b2tlbg"} {
		fields := weighing()
		fields.Set("form_token", token)
		answer, _ := send(t, client, w.URL+weighPage, fields)
		require.Equal(t, http.StatusForbidden, answer.StatusCode, name)
	}
	require.Empty(t, w.House.Asked(&intakev1.WeighBarrelRequest{}))
}

func TestForm_ADoublePressHasOneRequestID(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	_, form := open(t, client, w.URL+weighPage)
	fields := weighing()
	fields.Set("form_token", hidden(t, form, "form_token"))
	fields.Set("request_id", hidden(t, form, "request_id"))
	for range 2 {
		answer, _ := post(t, client, w.URL+weighPage, fields)
		require.Equal(t, http.StatusSeeOther, answer.StatusCode)
		require.Equal(t, "/barrels/"+gatetest.LastBarrelID+"/sample", answer.Header.Get("Location"))
	}
	asked := w.House.Asked(&intakev1.WeighBarrelRequest{})
	require.Len(t, asked, 2)
	require.True(t, proto.Equal(asked[0].Request, asked[1].Request), "the service sees the same request twice and answers it once")
	_, again := open(t, client, w.URL+weighPage)
	require.NotEqual(t, fields.Get("request_id"), hidden(t, again, "request_id"), "the next barrel is another request")
}

func TestWeigh_SaysThatTheWeightWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	typed := apierr.ReasonRequired("reason", "the weight was typed by hand", nil)
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, typed)
	answer, _ := send(t, client, w.URL+weighPage, weighing())
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	sent := last(t, w, &intakev1.WeighBarrelRequest{})
	require.Equal(t, "read from the display", sent.GetReason())
	require.True(t, sent.GetManual())
	require.Equal(t, "682.0", sent.GetGross().GetValue(), "a comma is a point")
	require.Equal(t, "682,0", sent.GetRawIndication(), "what was typed is kept")
	require.Equal(t, "FC-04433", sent.GetDrumTag())
	require.Equal(t, gatetest.OpenTicketID, sent.GetTicket()[len("tickets/"):])
}

func TestWeigh_AsksWhyAnUnusualWeightIsRight(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, apierr.ReasonRequired("net", "a net weight of 412.0 lb is unusual (usually 560.0 to 700.0 lb)", map[string]string{"low": "560.0", "high": "700.0"}))
	fields := weighing()
	answer, body := send(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "A net weight of 412.0 lb is unusual (usually 560.0 to 700.0 lb).")
	require.Contains(t, body, `name="reason"`)
	require.Contains(t, body, `value="682,0"`, "what was typed is still there")
	require.Equal(t, fields.Get("request_id"), hidden(t, body, "request_id"), "nothing was saved, so it is still the same request")
	require.Len(t, w.House.Asked(&intakev1.WeighBarrelRequest{}), 1, "the page must not answer for the clerk")

	fields.Set("reason", "half-full top-off barrel")
	answer, _ = post(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, "half-full top-off barrel", last(t, w, &intakev1.WeighBarrelRequest{}).GetReason())
}

func TestForm_KeepsItsRequestIDWhenTheAnswerIsLost(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	// The gateway itself repeats nothing that changes something.
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, apierr.Unavailable(nil))
	fields := weighing()
	answer, body := send(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "it will be saved only once")
	require.Equal(t, fields.Get("request_id"), hidden(t, body, "request_id"))
	require.Len(t, w.House.Asked(&intakev1.WeighBarrelRequest{}), 1)
}

func TestForm_TakesANewRequestIDWhenTheOldOneIsUsed(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, apierr.Reason(errorv1.Reason_REASON_REQUEST_ID_REUSED, "reused", nil))
	fields := weighing()
	_, body := send(t, client, w.URL+weighPage, fields)
	require.Contains(t, body, "This was saved already, with other values.")
	require.NotEqual(t, fields.Get("request_id"), hidden(t, body, "request_id"))
}

func TestForm_NamesEveryFaultyField(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	fields := weighing()
	fields.Set("drum_tag", "?")
	fields.Set("gross", "heavy")
	answer, body := send(t, client, w.URL+weighPage, fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	for _, name := range []string{"drum_tag", "gross"} {
		require.Regexp(t, `id="f-`+name+`"[^>]*aria-invalid="true"`, body)
		require.Contains(t, body, `<p class="fault" id="h-`+name+`">`)
	}
}

func TestForm_EscapesWhatWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	w.House.Refuse(&intakev1.WeighBarrelRequest{}, apierr.State("x", "OPEN", `<script>alert("message")</script>`))
	fields := weighing()
	fields.Set("drum_tag", `"><script>alert(1)</script>`)
	_, body := send(t, client, w.URL+weighPage, fields)
	require.NotContains(t, body, "<script>alert")
	require.Contains(t, body, "&lt;script&gt;alert(1)&lt;/script&gt;")
}

func TestForms_SendWhatWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	cases := []struct {
		login, page string
		fields      url.Values
		to          string
		check       func(t *testing.T)
	}{
		{"dock1", "/tickets/new", url.Values{"member": {"12"}, "crop_year": {"2026"}, "harvest_declared": {"yes"}}, weighPage, func(t *testing.T) {
			sent := last(t, w, &intakev1.OpenTicketRequest{})
			require.Equal(t, gatetest.Juniper, sent.GetMember())
			require.True(t, sent.GetHarvestDeclared())
			require.Equal(t, int32(2026), sent.GetCropYear())
		}},
		{"dock1", "/tickets/" + gatetest.OpenTicketID + "/close", url.Values{"barrel_count": {"3"}, "etag": {"7"}}, "/tickets/" + gatetest.CloseTicketID, func(t *testing.T) {
			sent := last(t, w, &intakev1.CloseTicketRequest{})
			require.Equal(t, int32(3), sent.GetBarrelCount())
			require.Equal(t, "7", sent.GetEtag())
		}},
		{"dock1", "/tickets/" + gatetest.OpenTicketID + "/cancel", url.Values{"reason": {"wrong lane"}}, "/tickets/" + gatetest.OpenTicketID, func(t *testing.T) {
			require.Equal(t, "wrong lane", last(t, w, &intakev1.CancelTicketRequest{}).GetReason())
		}},
		{"dock1", "/tickets/" + gatetest.CloseTicketID + "/void", url.Values{"reason": {"mixed up"}, "reissue_member": {"m-0007"}}, "/tickets/" + gatetest.CloseTicketID, func(t *testing.T) {
			require.Equal(t, gatetest.Sedge, last(t, w, &intakev1.RequestTicketVoidRequest{}).GetReissueMember())
		}},
		{"dock1", "/barrels/" + gatetest.LastBarrelID + "/sample", url.Values{}, "/barrels/" + gatetest.LastBarrelID + "/sample", func(t *testing.T) {
			require.Equal(t, "barrels/"+gatetest.LastBarrelID, last(t, w, &intakev1.DrawSampleRequest{}).GetBarrel())
		}},
		{"office1", "/tickets/" + gatetest.VoidTicketID + "/approve", url.Values{}, "/tickets/" + gatetest.CloseTicketID, func(t *testing.T) {
			require.Equal(t, "tickets/"+gatetest.VoidTicketID, last(t, w, &intakev1.ApproveTicketVoidRequest{}).GetName())
		}},
		{"office1", "/members/new", url.Values{"member_number": {"45"}, "display_name": {"Teasel Bank"}}, "/members", func(t *testing.T) {
			require.Equal(t, "M-0045", last(t, w, &intakev1.CreateMemberRequest{}).GetMemberNumber())
		}},
		{
			"lab1", "/bench/" + gatetest.WaitingCode + "/read",
			url.Values{"kind": {"REFRACTIVE_INDEX"}, "raw_value": {"1,4868"}, "temperature_c": {"21,0"}, "instrument": {"RF-2"}},
			"/bench/" + gatetest.WaitingCode + "/read?saved=aaaa0000-0000-4000-8000-000000000001", func(t *testing.T) {
				sent := last(t, w, &gradingv1.RecordReadingRequest{})
				require.Equal(t, gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX, sent.GetKind())
				require.Equal(t, "1.4868", sent.GetRawValue())
			},
		},
		{"lead1", "/bench/" + gatetest.MeasuredCode + "/certify", url.Values{"style": {"FILTERED"}}, "/certificates/" + gatetest.CertificateID, func(t *testing.T) {
			require.Equal(t, gradingv1.Style_STYLE_FILTERED, last(t, w, &gradingv1.IssueCertificateRequest{}).GetStyle())
		}},
		{"warehouse1", "/stock/move", url.Values{"drum_tag": {"fc-04417"}, "location": {"fc-b2-r1-l1"}}, "/stock/move?moved=FC-04417&to=FC-B2-R1-L1", func(t *testing.T) {
			sent := last(t, w, &inventoryv1.MoveBarrelRequest{})
			require.Equal(t, "stock/"+gatetest.StockID, sent.GetName())
			require.Equal(t, "FC-B2-R1-L1", sent.GetLocation())
		}},
		{"warehouse1", "/stock/" + gatetest.StockID + "/hold", url.Values{"code": {"RESIDUE"}, "reason": {"screen"}}, "/stock/" + gatetest.StockID, func(t *testing.T) {
			require.Equal(t, inventoryv1.HoldCode_HOLD_CODE_RESIDUE, last(t, w, &inventoryv1.PlaceHoldRequest{}).GetCode())
		}},
		{"lead1", "/holds/" + gatetest.HoldID + "/release", url.Values{"reason": {"clean"}}, "/holds", func(t *testing.T) {
			require.Equal(t, "clean", last(t, w, &inventoryv1.ReleaseHoldRequest{}).GetReason())
		}},
		{"board1", "/schedules/" + gatetest.DraftID + "/adopt", url.Values{"resolution": {"Board 2026-09-12 no. 1"}}, "/schedules/" + gatetest.DraftID, func(t *testing.T) {
			require.Equal(t, "Board 2026-09-12 no. 1", last(t, w, &settlementv1.AdoptScheduleRequest{}).GetResolution())
		}},
	}
	clients := map[string]*http.Client{}
	for _, c := range cases {
		if clients[c.login] == nil {
			clients[c.login] = w.Browser(c.login)
		}
		answer, body := send(t, clients[c.login], w.URL+c.page, c.fields)
		require.Equal(t, http.StatusSeeOther, answer.StatusCode, "%s: %s", c.page, body)
		require.Equal(t, c.to, answer.Header.Get("Location"), c.page)
		c.check(t)
	}
}

func TestScaleCheck_SendsTheLoadsThatWereTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	answer, body := send(t, client, w.URL+"/scales/1/check", url.Values{
		"zero_indication": {"0.0"}, "weight_id_1": {"TW-50-1"}, "known_1": {"50"}, "indication_1": {"50.0"}, "known_3": {"600"}, "indication_3": {"600.5"}, "sealed": {"yes"},
	})
	require.Equal(t, http.StatusOK, answer.StatusCode, body)
	require.Contains(t, body, "Scale 1: checked 06:52, in tolerance.")
	sent := last(t, w, &intakev1.RecordScaleCheckRequest{})
	require.Len(t, sent.GetLoads(), 2)
	require.Equal(t, "600.5", sent.GetLoads()[1].GetIndication().GetValue())
	require.Equal(t, intakev1.ToleranceKind_TOLERANCE_KIND_ACCEPTANCE, sent.GetToleranceKind())
}

func TestScaleCheck_AFaultStandsBesideTheRowItIsIn(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	answer, body := send(t, client, w.URL+"/scales/1/check", url.Values{
		"zero_indication": {""}, "known_1": {"50"}, "indication_1": {"50.0"}, "known_3": {"600"}, "indication_3": {"600,5,1"},
	})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	body = html.UnescapeString(body)
	require.Contains(t, body, `“Shown with nothing on it” is missing. Weight 3, indication is "600.5.1", must be a decimal number`)
	require.Contains(t, body, `<p class="fault" id="h-indication_3">`, "the second weight that was sent stands in the third row")
	require.Contains(t, body, `<p class="fault" id="h-zero_indication">`)
	require.NotContains(t, body, `id="h-indication_1"`)
	require.Regexp(t, `id="f-zero_indication"[^>]* autofocus`, body)
	require.NotRegexp(t, `id="f-weight_id_1"[^>]* autofocus`, body, "refused, the form does not begin anew")
	require.Contains(t, body, "<details open>", "a fault is not folded away")
}

func TestStockList_TellsWhatCannotBeLookedForBesideItsField(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("warehouse1")
	_, body := open(t, client, w.URL+"/stock/list?variety=Clover&grade=a&crop_year=2026")
	asked := last(t, w, &inventoryv1.ListStockRequest{})
	require.Equal(t, "clover A 2026", fmt.Sprintf("%s %s %d", asked.GetVariety(), asked.GetGrade(), asked.GetCropYear()))
	require.NotContains(t, body, "note-bad")

	_, body = open(t, client, w.URL+"/stock/list?crop_year=twenty")
	require.Contains(t, html.UnescapeString(body), `Crop year: "twenty" is not a year such as 2026.`)
	require.Contains(t, body, `<p class="fault" id="h-crop_year">`)
	w.House.Refuse(&inventoryv1.ListStockRequest{}, apierr.Field("variety", "must not hold a NUL character"))
	answer, body := open(t, client, w.URL+"/stock/list?variety=a%00")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, `<p class="fault" id="h-variety">`)
	require.Contains(t, body, "Nothing was looked for.")
	require.NotContains(t, body, "None.", "nothing found is another answer")
}

func TestSchedule_IsReadFromPastedLines(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("office1")
	fields := url.Values{
		"crop_year": {"2026"}, "effective_date": {"2026-10-01"}, "base_percent": {"18.6"}, "step_per_tenth": {"0.005"},
		"rows":       {"basswood\textra white\ta\t1.10\r\nany; light amber; A; 0.98\r\n\r\n"},
		"deductions": {"hauling; Hauling, zone 2; Agreement 2026, article 7; net; 0.02\nDRUM; Drum care; Agreement 2026, article 9; barrel; 3.00"},
	}
	answer, body := send(t, client, w.URL+"/schedules/new", fields)
	require.Equal(t, http.StatusSeeOther, answer.StatusCode, body)
	sent := last(t, w, &settlementv1.CreateScheduleRequest{}).GetSchedule()
	require.Len(t, sent.GetRows(), 2)
	require.Equal(t, []string{"basswood", "EXTRA_WHITE", "A", "1.10"}, []string{sent.GetRows()[0].GetVariety(), sent.GetRows()[0].GetColorClass(), sent.GetRows()[0].GetGrade(), sent.GetRows()[0].GetAdvance().GetAmount()})
	require.Empty(t, sent.GetRows()[1].GetVariety())
	require.Equal(t, "HAULING", sent.GetDeductions()[0].GetCode())
	require.Equal(t, "0.02", sent.GetDeductions()[0].GetRate().GetAmount())
	require.Equal(t, "3.00", sent.GetDeductions()[1].GetAmount().GetAmount())

	fields = url.Values{"crop_year": {"2026"}, "effective_date": {"2026-10-01"}, "base_percent": {"18.6"}, "rows": {"basswood; white; A"}}
	answer, body = send(t, client, w.URL+"/schedules/new", fields)
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "Line 1 of rows cannot be read")
	require.Len(t, w.House.Asked(&settlementv1.CreateScheduleRequest{}), 1)
}

func TestBench_FindsAJarByItsCode(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("lab1")
	answer, _ := open(t, client, w.URL+"/bench/find?code=h2vk8pwd3")
	require.Equal(t, "/bench/"+gatetest.WaitingCode+"/read", answer.Header.Get("Location"))
	answer, _ = open(t, client, w.URL+"/bench/find?code="+gatetest.MeasuredCode)
	require.Equal(t, "/bench/"+gatetest.MeasuredCode, answer.Header.Get("Location"))
	answer, _ = open(t, client, w.URL+"/bench/find?code=NOSUCH")
	_, body := open(t, client, w.URL+answer.Header.Get("Location"))
	require.Contains(t, body, "There is no sample NOSUCH. Check it and try again.")

	// The instrument of a reading is asked for once, each way of measuring with its own.
	fields := url.Values{"kind": {"BRIX"}, "raw_value": {"81.0"}, "instrument": {"RF-2"}}
	answer, _ = send(t, client, w.URL+"/bench/"+gatetest.WaitingCode+"/read", fields)
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	given := answer.Cookies
	require.Len(t, given, 1)
	require.True(t, given[0].HttpOnly)
	_, body = open(t, client, w.URL+"/bench/"+gatetest.WaitingCode+"/read?kind=BRIX")
	require.Contains(t, body, `name="instrument" type="text" value="RF-2"`)
	require.Contains(t, body, "As last time for “°Brix”.")
	_, body = open(t, client, w.URL+"/controls/"+gatetest.ControlID+"/run?kind=PFUND_MM")
	require.NotContains(t, body, `value="RF-2"`)
}

// After its last reading a jar is put away and the next one is scanned.
func TestBench_TheNextJarIsUnderTheHand(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("lab1")
	jar := w.URL + "/bench/" + gatetest.MeasuredCode
	_, body := open(t, client, jar+"?saved=aaaa0000-0000-4000-8000-000000000004")
	require.Regexp(t, `action="/bench/find"[^~]*name="code" required autofocus`, body)
	_, body = open(t, client, jar)
	require.NotContains(t, body, "autofocus", "who only looks at a jar is not led away from it")
}

// The bench must not be able to tell whose honey it measures.
func TestBench_NeverShowsAMember(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("lab1")
	for _, page := range everyPage["lab1"] {
		_, body := open(t, client, w.URL+page)
		for _, secret := range []string{"M-0012", "Juniper", "FC-044"} {
			require.NotContains(t, body, secret, page)
		}
	}
}

// What people read is words and figures with their thousands, never a name of the wire.
func TestPages_SayItInWords(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("auditor1"), w.URL+"/views?viewer=lab1&resource="+strings.ToLower(gatetest.WaitingCode))
	asked := last(t, w, &gradingv1.ListViewsRequest{})
	require.Equal(t, "users/lab1 samples/"+gatetest.WaitingCode, asked.GetViewer()+" "+asked.GetResource())
	require.Contains(t, body, `<a href="/samples/`+gatetest.WaitingCode+`">sample `+gatetest.WaitingCode+`</a>`)
	require.Contains(t, body, ", opened")
	require.NotContains(t, body, "GetSample")
	office, board := w.Browser("office1"), w.Browser("board1")
	_, body = open(t, board, w.URL+"/refunds/new")
	require.Contains(t, body, `To be shared <span class="unit">USD</span>`)
	for page, field := range map[string]string{"/encumbrances/new": "Most in all", "/dock-terms/deposit": "For each"} {
		_, body = open(t, office, w.URL+page)
		require.Contains(t, body, field+` <span class="unit">USD</span>`, page)
	}
}

// An alarm of a probe comes before every figure: somebody has to turn the heat down.
func TestHeat_TheAlarmComesFirst(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	_, body := open(t, w.Browser("warehouse1"), w.URL+"/stock/"+gatetest.StockID+"/heat")
	alarm, figures := strings.Index(body, `<div class="note note-bad">`), strings.Index(body, "Brought with it")
	require.Positive(t, alarm)
	require.Less(t, alarm, figures)
	require.Contains(t, body, `<section class="answer answer-bad">`)
}
