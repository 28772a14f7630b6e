package web_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	"barrelhead.example/gateway/internal/gatetest"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/apierr"
)

func pounds(value string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: "LB"} }

func TestReceiving_SendsWhatWasTyped(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	open, closed := "tickets/"+gatetest.OpenTicketID, "tickets/"+gatetest.CloseTicketID
	sendAll(t, w, []sending{
		{"dock1", "/" + open + "/reject", url.Values{"reason": {"FERMENTING"}, "note": {"foam under the lid"}, "drum_tag": {"JR-9"}, "photo_sha256": {""}}, "/" + open, &intakev1.RejectBarrelRequest{
			Ticket: open, Reason: intakev1.RejectReason_REJECT_REASON_FERMENTING, Note: "foam under the lid", DrumTag: "JR-9",
		}},
		{"dock1", "/" + closed + "/rejects/" + gatetest.RejectID + "/left", url.Values{"fate": {"DISPOSED"}, "note": {"as the member said"}}, "/" + closed, &intakev1.RecordRejectExitRequest{
			Name: "rejectedBarrels/" + gatetest.RejectID, Fate: intakev1.RejectFate_REJECT_FATE_DISPOSED, Note: "as the member said",
		}},
		{"dock1", "/samples/" + gatetest.BrokenCode + "/record", url.Values{"portion": {"B"}, "kind": {"STORED"}, "place": {"cold cabinet 2"}, "seal": {"S-1002"}}, "/samples/" + gatetest.BrokenCode, &intakev1.RecordCustodyRequest{
			Sample: "samples/" + gatetest.BrokenCode, Portion: intakev1.Portion_PORTION_B, Kind: intakev1.CustodyKind_CUSTODY_KIND_STORED, Place: "cold cabinet 2", Seal: "S-1002",
		}},
		{"office1", "/members/M-0012/containers/move", url.Values{"kind": {"LOST"}, "container": {"TOTE"}, "count": {"2"}, "note": {"burnt"}}, "/members/M-0012/containers", &intakev1.RecordContainerMoveRequest{
			Member: gatetest.Juniper, Container: intakev1.Container_CONTAINER_TOTE, Kind: intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_LOST, Count: 2, Note: "burnt",
		}},
		{"dock1", "/barrels/" + gatetest.PaperID + "/confirm", url.Values{}, "/tickets/" + gatetest.PaperTrip, &intakev1.ConfirmPaperWeightRequest{Barrel: "barrels/" + gatetest.PaperID}},
		{"office1", "/tickets/" + gatetest.PaperTrip + "/declare", url.Values{"note": {"folder 2026, sheet 41"}}, "/tickets/" + gatetest.PaperTrip, &intakev1.DeclareHarvestRequest{
			Name: "tickets/" + gatetest.PaperTrip, Note: "folder 2026, sheet 41",
		}},
		{"dock1", "/tickets/new", url.Values{
			"member": {"12"}, "crop_year": {"2026"}, "owners": {"12; 66,6667\n31; 33.3333"}, "claims": {"organic; CERT-4417\nraw"}, "vehicle": {"WX 204"}, "yard_region": {"North ridge"}, "remarks": {"two pallets"},
		}, "/" + open + "/weigh", &intakev1.OpenTicketRequest{
			Member: gatetest.Juniper, CropYear: 2026, Vehicle: "WX 204", YardRegion: "North ridge", Remarks: "two pallets",
			Owners: []*intakev1.OwnerShare{{Member: gatetest.Juniper, SharePercent: "66.6667"}, {Member: "members/M-0031", SharePercent: "33.3333"}},
			Claims: []*intakev1.HoneyClaim{{Claim: "organic", Certificate: "CERT-4417"}, {Claim: "raw"}},
		}},
		{"dock1", "/barrels/" + gatetest.LastBarrelID + "/sample", url.Values{"seal_a": {"S-1"}, "seal_c": {"S-3"}}, "/barrels/" + gatetest.LastBarrelID + "/sample", &intakev1.DrawSampleRequest{
			Barrel: "barrels/" + gatetest.LastBarrelID, Seals: []*intakev1.PortionSeal{{Portion: intakev1.Portion_PORTION_A, Seal: "S-1"}, {Portion: intakev1.Portion_PORTION_C, Seal: "S-3"}},
		}},
		{"dock1", "/" + open + "/close", url.Values{"barrel_count": {"3"}, "driver": {"R. Ashdown"}}, "/" + closed, &intakev1.CloseTicketRequest{Name: open, BarrelCount: 3, Driver: "R. Ashdown"}},
		{"dock1", "/" + open + "/paper", url.Values{
			"paper_number": {"3-0418"}, "hour": {"06:40"}, "drum_tag": {"fc-04461"}, "gross": {"312,5"}, "tare": {"42"}, "variety": {"clover"},
			"tare_kind": {"CLASS"}, "scale": {"scales/1"}, "part": {"yes"}, "reason": {"rest of the yard"},
		}, "/barrels/5d7e3a10-0000-4000-8000-000000000003/sample", &intakev1.WeighBarrelRequest{
			Ticket: open, DrumTag: "FC-04461", Variety: "clover", Gross: pounds("312.5"), RawIndication: "312,5", Tare: pounds("42"), TareKind: intakev1.TareKind_TARE_KIND_CLASS,
			Scale: "scales/1", Manual: true, Part: true, PaperNumber: "3-0418", Reason: "from the paper book: rest of the yard",
			WeighTime: timestamppb.New(time.Date(2026, 9, 14, 11, 40, 0, 0, time.UTC)),
		}},
	})
}

func TestReceiving_KeepsWhatWasTypedWhenRefused(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("dock1")
	page := w.URL + "/tickets/" + gatetest.OpenTicketID + "/paper"
	answer, body := send(t, client, page, url.Values{"paper_number": {"3-0418"}, "hour": {"half past"}, "gross": {"684.0"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, `id="h-hour">Must be a time of day as it stands in the book, such as 14:05.`)
	require.Contains(t, body, `value="3-0418"`)
	require.Contains(t, body, `value="684.0"`)
	require.Empty(t, w.House.Asked(&intakev1.WeighBarrelRequest{}))

	answer, body = send(t, client, w.URL+"/tickets/new", url.Values{"member": {"12"}, "crop_year": {"2026"}, "owners": {"12 100"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "Line 1 of owners cannot be read: it needs member and percent")
	require.Contains(t, body, ">12 100</textarea>")

	w.House.Refuse(&intakev1.RecordContainerMoveRequest{}, apierr.OutOfRange("count", "1", "14", "M-0012 has only 14 out"))
	answer, body = send(t, client, w.URL+"/members/M-0012/containers/move", url.Values{"kind": {"BACK_EMPTY"}, "container": {"STEEL_CLOSED_HEAD"}, "count": {"20"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "M-0012 has only 14 out")
	require.Contains(t, body, `name="count" type="text" value="20"`)
	require.Regexp(t, `value="BACK_EMPTY" checked`, body)

	w.House.Refuse(&intakev1.ConfirmPaperWeightRequest{}, apierr.SamePerson("users/dock1", "you entered it yourself: somebody else compares it with the book"))
	answer, body = send(t, client, w.URL+"/barrels/"+gatetest.PaperID+"/confirm", url.Values{})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "somebody else compares it with the book")
}

func TestTicket_ShowsWhatWasNotTakenIn(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	page := w.URL + "/tickets/" + gatetest.CloseTicketID
	_, body := open(t, w.Browser("dock1"), page)
	require.Contains(t, body, "JR-9: foaming, sour or under pressure")
	require.Contains(t, body, "/rejects/"+gatetest.RejectID+"/left")
	require.Contains(t, body, "collected: the hauler took it back")
	_, body = open(t, w.Browser("juniper"), page)
	require.Contains(t, body, "JR-9: foaming, sour or under pressure", "the member reads it too")
	require.NotContains(t, body, "/left")
	require.Contains(t, body, `href="/samples/`+gatetest.BrokenCode+`"`)
}

func TestCustody_SaysWhereAJarIsAndWhatBrokeItsChain(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	client := w.Browser("juniper")
	_, body := open(t, client, w.URL+"/samples/"+gatetest.BrokenCode)
	require.Contains(t, body, "1 jar has a gap in its chain.")
	require.Contains(t, body, "Jar A: on the way to laboratory")
	require.Contains(t, body, "The seal reads S-9001 but was put on as S-1002.")
	require.NotContains(t, body, "dock1", "a member is not told who")
	answer, _ := open(t, client, w.URL+"/samples?code="+gatetest.BrokenCode)
	require.Equal(t, "/samples/"+gatetest.BrokenCode, answer.Header.Get("Location"))
	answer, _ = open(t, client, w.URL+"/containers")
	require.Equal(t, "/members/M-0012/containers", answer.Header.Get("Location"))
}

func TestTicket_LinksToNoTicketOfANeighbour(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office := w.Browser("office1")
	_, body := open(t, w.Browser("juniper"), w.URL+"/tickets/"+gatetest.WrongTicketID)
	require.Contains(t, body, "This ticket was not yours and no longer counts.")
	require.NotContains(t, body, gatetest.SedgeTicketID)
	_, body = open(t, office, w.URL+"/tickets/"+gatetest.WrongTicketID)
	require.Contains(t, body, `href="/tickets/`+gatetest.SedgeTicketID+`">Open the ticket that stands`)
	_, body = open(t, office, w.URL+"/tickets/"+gatetest.SedgeTicketID)
	require.Contains(t, body, `href="/tickets/`+gatetest.WrongTicketID+`">an earlier one`)
}

func TestDrill_TheLaboratoryLeadStartsOneByTheCodeOfALot(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	lead := w.Browser("lead1")
	answer, body := send(t, lead, w.URL+"/drills/new", url.Values{"subject": {""}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode)
	require.Contains(t, body, "“Code on a jar” is missing.")
	answer, _ = send(t, lead, w.URL+"/drills/new", url.Values{"subject": {"fc26257l1a"}})
	require.Equal(t, "/drills", answer.Header.Get("Location"))
	require.Equal(t, "packLots/FC26257L1A", last(t, w, &inventoryv1.StartRecallDrillRequest{}).GetSubject())
	send(t, lead, w.URL+"/drills/new", url.Values{"subject": {" t1-26-003"}})
	require.Equal(t, "charges/"+gatetest.ChargeCode, last(t, w, &inventoryv1.StartRecallDrillRequest{}).GetSubject())
	require.Empty(t, w.House.Asked(&inventoryv1.TraceRequest{}), "who may not trace is not asked to")
	_, body = send(t, w.Browser("office1"), w.URL+"/drills/new", url.Values{"subject": {"nothing"}})
	require.Contains(t, body, "“Code on a jar” is &#34;NOTHING&#34;, the code of no lot or charge and the tag of no drum")
}

func TestLoan_KeepsTheDayThatCannotBe(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	w.House.Refuse(&settlementv1.GetLoanRequest{}, apierr.Field("as_of_date", `"3000-01-01" is after today`))
	answer, body := open(t, w.Browser("juniper"), w.URL+"/loans/"+gatetest.LoanID+"?as_of=3000-01-01")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	require.Contains(t, body, `value="3000-01-01"`)
	require.Contains(t, body, "is after today.</p>")
	require.Contains(t, body, "Pays it off")
}
