package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/gateway/internal/gatetest"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

func TestReview_NamesWhatIsToBeWeighedAgain(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	_, body := open(t, client, w.URL+"/reviews/"+gatetest.ReviewID)
	require.Contains(t, body, "3 barrels in doubt, 1 to weigh again", "the second of two was weighed already")
	require.Contains(t, body, "weighed again: 681.5\u00a0lb, counts from now on")
	require.NotContains(t, body, "Decide the review", "the dock does not decide about its own weights")
	answer, body := send(t, client, w.URL+"/barrels/"+gatetest.DoubtfulBarrel+"/reweigh", url.Values{"gross": {"681,5"}, "scale": {"scales/1"}, "seal_intact": {"yes"}})
	require.Equal(t, http.StatusOK, answer.StatusCode, body)
	require.Contains(t, body, "The new weight counts.")
	sent := last(t, w, &intakev1.ReweighBarrelRequest{})
	require.Equal(t, "681.5", sent.GetGross().GetValue())
	require.True(t, sent.GetSealIntact())
	require.True(t, sent.GetManual())

	page := w.URL + "/barrels/" + gatetest.DoubtfulBarrel + "/reweigh?scale=scales/1"
	_, body = open(t, client, page)
	require.Contains(t, body, `<p class="shown-word">Stands still</p>`)
	answer, body = send(t, client, page, url.Values{"from": {"scale"}, "scale": {"scales/1"}})
	require.Equal(t, http.StatusOK, answer.StatusCode, body)
	sent = last(t, w, &intakev1.ReweighBarrelRequest{})
	require.Contains(t, sent.GetIndication(), "scales/1/indications/")
	require.False(t, sent.GetManual())
	require.False(t, sent.GetSealIntact())
}

func TestNumbers_AccountForTheYear(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("auditor1")
	_, body := open(t, client, w.URL+"/numbers?year=2025")
	require.Contains(t, body, "FC-2025: all 732 numbers are accounted for.")
	require.Equal(t, int32(2025), last(t, w, &intakev1.ReportTicketNumbersRequest{}).GetYear())
	open(t, client, w.URL+"/weighers")
	span := last(t, w, &intakev1.ReportWeighersRequest{})
	require.Equal(t, "2026-08-14", span.GetFromDate())
	require.Equal(t, "2026-09-14", span.GetToDate())
}

func TestDrums_TakeAScannedTag(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	answer, _ := open(t, w.Browser("dock1"), w.URL+"/drums?tag=fc-04417")
	require.Equal(t, "/drums/FC-04417", answer.Header.Get("Location"))
}

func TestSecondLooks_SendWhatWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	sendAll(t, w, []sending{
		{"office1", "/reviews/" + gatetest.ReviewID + "/resolve", url.Values{"rest_note": {"shipped"}}, "/reviews/" + gatetest.ReviewID, &intakev1.ResolveScaleReviewRequest{Name: "scaleReviews/" + gatetest.ReviewID, RestNote: "shipped"}},
		{"office1", "/drums/new", url.Values{"drum_tag": {"fc-04490"}, "container": {"STEEL_LINED"}, "ownership": {"MEMBER"}, "owner": {"12"}}, "/drums/FC-04490", &intakev1.RegisterDrumRequest{
			DrumTag: "FC-04490", Container: intakev1.Container_CONTAINER_STEEL_LINED, Ownership: intakev1.DrumOwnership_DRUM_OWNERSHIP_MEMBER, Owner: gatetest.Juniper,
		}},
		{"office1", "/drums/FC-04417/release", url.Values{"reason": {"sold as it was"}}, "/drums/FC-04417", &intakev1.ReleaseDrumRequest{Name: "drums/FC-04417", Reason: "sold as it was"}},
		{"office1", "/drums/FC-04490/retire", url.Values{"reason": {"rust"}}, "/drums/FC-04490", &intakev1.RetireDrumRequest{Name: "drums/FC-04490", Reason: "rust"}},
		{"lab1", "/bench/" + gatetest.MeasuredCode + "/reread", url.Values{"kind": {"MOISTURE_PERCENT"}, "first": {"18,7"}, "second": {"18.6"}}, "/bench/" + gatetest.MeasuredCode + "?saved=aaaa0000-0000-4000-8000-000000000001", &gradingv1.RecordRereadsRequest{
			Sample: "samples/" + gatetest.MeasuredCode, Kind: gradingv1.ReadingKind_READING_KIND_MOISTURE_PERCENT, RawValues: []string{"18.7", "18.6"},
		}},
		{"office1", "/certificates/" + gatetest.CertificateID + "/appeal", url.Values{"factor": {"MOISTURE"}, "stage": {"REFEREE"}, "reason": {"own meter"}}, "/appeals/" + gatetest.OpenAppealID, &gradingv1.OpenAppealRequest{
			Certificate: "certificates/" + gatetest.CertificateID, Factor: gradingv1.Factor_FACTOR_MOISTURE, Stage: gradingv1.AppealStage_APPEAL_STAGE_REFEREE, Reason: "own meter",
		}},
		{"lab1", "/appeals/" + gatetest.OpenAppealID + "/measure", url.Values{"kind": {"BRIX"}, "raw_value": {"79,9"}, "instrument": {"RF-2"}}, "/appeals/" + gatetest.OpenAppealID, &gradingv1.RecordAppealReadingRequest{
			Appeal: "appeals/" + gatetest.OpenAppealID, Kind: gradingv1.ReadingKind_READING_KIND_BRIX, RawValue: "79.9", Instrument: "RF-2",
		}},
		{"lead1", "/appeals/" + gatetest.MeasuredAppeal + "/decide", url.Values{}, "/appeals/" + gatetest.MeasuredAppeal, &gradingv1.DecideAppealRequest{Appeal: "appeals/" + gatetest.MeasuredAppeal}},
	})
}

// sending is a form filled in by somebody: where it leads and what the house is asked.
type sending struct {
	login, page string
	fields      url.Values
	to          string
	want        proto.Message
}

// sendAll fills in each form and compares what the house was asked, but for the request_id.
func sendAll(t *testing.T, w *gatetest.World, cases []sending) {
	t.Helper()
	clients := map[string]*http.Client{}
	for _, c := range cases {
		if clients[c.login] == nil {
			clients[c.login] = w.Browser(c.login)
		}
		answer, body := send(t, clients[c.login], w.URL+c.page, c.fields)
		require.Equal(t, http.StatusSeeOther, answer.StatusCode, "%s: %s", c.page, body)
		require.Equal(t, c.to, answer.Header.Get("Location"), c.page)
		asked := w.House.Asked(c.want)
		sent := asked[len(asked)-1].Request
		request := sent.ProtoReflect()
		request.Clear(request.Descriptor().Fields().ByName("request_id"))
		require.True(t, proto.Equal(c.want, sent), "%s sent %v", c.page, sent)
	}
}

func TestDuplicate_ShowsOnlyTheCodeOfTheSecondJar(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	answer, body := send(t, w.Browser("lead1"), w.URL+"/bench/"+gatetest.MeasuredCode+"/duplicate", url.Values{})
	require.Equal(t, http.StatusOK, answer.StatusCode, body)
	require.Contains(t, body, `<span class="chunk">K4M</span><span class="chunk">TRX</span><span class="chunk">2W7</span>`)
	require.NotContains(t, body, "T3F", "beside the first code it could be told what it is a double of")
	require.Equal(t, "samples/"+gatetest.MeasuredCode, last(t, w, &gradingv1.CreateDuplicateRequest{}).GetOriginal())
}
