package paper_test

import (
	"encoding/json"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
)

// What the schema and the vocabulary of EPCIS 2.0 ask of an event, as far as we send it: github gs1/EPCIS, JSON-Schema (the document, the
// kinds of events, their definitions and the lists of steps and dispositions) and Ontology/CBV.ttl for what the words mean; read.
var (
	bizSteps = strings.Fields(`accepting arriving assembling collecting commissioning consigning creating_class_instance cycle_counting decommissioning departing destroying
		disassembling dispensing encoding entering_exiting holding inspecting installing killing loading other packing picking receiving removing repackaging repairing
		replacing reserving retail_selling sampling sensor_reporting shipping staging_outbound stock_taking stocking storing transporting unloading unpacking void_shipping`)
	dispositions = strings.Fields(`active available completeness_inferred completeness_verified conformant container_closed container_open damaged destroyed dispensed disposed
		encoded expired in_progress in_transit inactive mismatch_class mismatch_instance mismatch_quantity needs_replacement no_pedigree_match non_conformant
		non_sellable_other partially_dispensed recalled reserved retail_sold returned sellable_accessible sellable_not_accessible stolen unavailable unknown`)
	transactionTypes = strings.Fields(`bol cert desadv inv pedigree po poc prodorder recadv rma testprd testres`)
	partyTypes       = strings.Fields(`owning_party possessing_party location`)
	uri              = regexp.MustCompile(`^[a-z][a-z0-9+.-]*:[^\s]+$`)
	offset           = regexp.MustCompile(`^([+]|[-])((0[0-9]|1[0-3]):([0-5][0-9])|14:00)$`)
	unitCode         = regexp.MustCompile(`^[A-Z0-9]{2,3}$`)

	// A property with another name than these would have to be a URI of an extension.
	common     = strings.Fields(`@context type eventTime recordTime eventTimeZoneOffset eventID errorDeclaration`)
	ofEvery    = strings.Fields(`bizStep disposition readPoint bizLocation bizTransactionList sourceList destinationList sensorElementList`)
	properties = map[string][]string{
		"ObjectEvent":         strings.Fields(`epcList quantityList action persistentDisposition ilmd`),
		"AggregationEvent":    strings.Fields(`parentID childEPCs childQuantityList action`),
		"TransformationEvent": strings.Fields(`inputEPCList inputQuantityList outputEPCList outputQuantityList transformationID persistentDisposition ilmd`),
	}
)

// document is what is exchanged: @context, type, schemaVersion, creationDate and epcisBody are required, and eventList in the last.
type document struct {
	Context       []string `json:"@context"`
	Type          string
	SchemaVersion string
	CreationDate  string
	EpcisBody     struct {
		EventList []map[string]any
	}
}

func TestEventsOfTheHouseAreAnEPCISDocument(t *testing.T) {
	t.Parallel()
	as := callers(t)
	path := "/v1/traceEvents.jsonld?from_date=2026-09-01&through_date=2026-09-30"
	content := as("auditor1").get(path, "application/ld+json")
	var d document
	require.NoError(t, json.Unmarshal(content, &d))
	var top map[string]any
	require.NoError(t, json.Unmarshal(content, &top))
	require.ElementsMatch(t, strings.Fields("@context type schemaVersion creationDate epcisBody"), slices.Collect(maps.Keys(top)))
	require.Equal(t, "EPCISDocument", d.Type)
	require.Equal(t, "2.0", d.SchemaVersion)
	require.Equal(t, []string{"https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"}, d.Context)
	_, err := time.Parse(time.RFC3339, d.CreationDate)
	require.NoError(t, err)
	require.Len(t, d.EpcisBody.EventList, 20, "both pages")
	seen, ids := map[string]int{}, map[any]bool{}
	for _, e := range d.EpcisBody.EventList {
		kind, _ := e["type"].(string)
		seen[kind]++
		require.False(t, ids[e["eventID"]], "an event has an id of its own")
		ids[e["eventID"]] = true
		validEvent(t, kind, e)
	}
	require.Equal(t, map[string]int{"ObjectEvent": 15, "TransformationEvent": 3, "AggregationEvent": 2}, seen)
	require.Contains(t, fmtJSON(t, d.EpcisBody.EventList[4]), "https://id.gs1.org/01/04012345678901/10/"+gatetest.LotCode)

	answer, _ := as("auditor1").send("GET", "/v1/traceEvents.jsonld?from_date=2026-09-30&through_date=2026-09-01", nil)
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
	answer, _ = as("auditor1").send("GET", path+"&member=M-0001", nil)
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
	answer, _ = as("dock1").send("GET", path, nil)
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
}

// What each thing that happens is in the words of the vocabulary.
func TestEventsOfTheHouseHaveTheStepsOfTheVocabulary(t *testing.T) {
	t.Parallel()
	as := callers(t)
	var d document
	require.NoError(t, json.Unmarshal(as("auditor1").get("/v1/traceEvents.jsonld?from_date=2026-09-01&through_date=2026-09-30", "application/ld+json"), &d))
	var said []string
	for _, e := range d.EpcisBody.EventList {
		step, _ := e["bizStep"].(string)
		disposition, _ := e["disposition"].(string)
		action, _ := e["action"].(string)
		said = append(said, strings.Join([]string{step, disposition, action}, " "))
	}
	require.Equal(t, []string{
		"storing  OBSERVE", "creating_class_instance  ", "packing  ", "destroying destroyed DELETE", "commissioning active ADD", "shipping in_transit OBSERVE",
		"packing  ADD", "unpacking  DELETE", "shipping in_transit OBSERVE", "destroying destroyed DELETE",
		// "Added to the receiver's inventory"; "segregated for further review", and "not sellable pending further evaluation"; "returned to
		// the supply chain"; "non-sellable because of public safety reasons"; released from one hold of two.
		"receiving  OBSERVE", "holding non_sellable_other OBSERVE", "inspecting available OBSERVE", "holding recalled OBSERVE", "inspecting non_sellable_other OBSERVE",
		// "Sent or brought back for various reasons. It may or may not be sellable", with receiving; "can be sold as is, but customer cannot
		// access product for purchase", with storing. Honey in bulk is poured into a tank and becomes part of what is there.
		"receiving returned OBSERVE", "storing sellable_not_accessible OBSERVE", "destroying destroyed DELETE", "receiving returned OBSERVE", "creating_class_instance  ",
	}, said)
	require.Contains(t, fmtJSON(t, d.EpcisBody.EventList[10]), `"bizTransactionList":[{"bizTransaction":"urn:uuid:`+gatetest.CloseTicketID+`","type":"recadv"}]`)
	require.Equal(t, []any{"urn:uuid:" + gatetest.LotID}, d.EpcisBody.EventList[13]["epcList"])
	require.JSONEq(t, `[{"bizTransaction":"urn:x-barrelhead:charge:T1-26-003","type":"prodorder"}]`, fmtJSON(t, d.EpcisBody.EventList[1]["bizTransactionList"]),
		"\"Production Order\" in the words of the vocabulary")

	back, bulk := d.EpcisBody.EventList[15:18], d.EpcisBody.EventList[18:]
	for n, jars := range []string{"140", "100", "40"} {
		require.Equal(t, `[{"epcClass":"https://id.gs1.org/01/04012345678901/10/`+gatetest.LotCode+`","quantity":`+jars+`}]`, fmtJSON(t, back[n]["quantityList"]))
		require.Empty(t, back[n]["epcList"], "jars have no numbers of their own")
	}
	for _, came := range []map[string]any{back[0], bulk[0]} {
		require.JSONEq(t, `[{"source":"urn:x-barrelhead:customer:Market%20Hall%20Larder","type":"owning_party"}]`, fmtJSON(t, came["sourceList"]))
		require.Contains(t, fmtJSON(t, came["bizTransactionList"]), `"type":"bol"`, "with the shipment it had left with")
		require.NotNil(t, came["bizLocation"], "it is here again")
	}
	require.Equal(t, []any{"urn:uuid:" + gatetest.BulkReturnID}, bulk[0]["epcList"], "out of which it is poured later")
	require.Equal(t, bulk[0]["epcList"], bulk[1]["inputEPCList"])
	require.Equal(t, []any{"urn:uuid:" + gatetest.ChargeID}, bulk[1]["outputEPCList"])
}

func fmtJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

// validEvent checks what the schema requires of an event.
func validEvent(t *testing.T, kind string, e map[string]any) {
	t.Helper()
	require.Contains(t, properties, kind)
	require.Subset(t, slices.Concat(common, ofEvery, properties[kind]), slices.Collect(maps.Keys(e)), kind)
	eventTime, _ := e["eventTime"].(string)
	at, err := time.Parse(time.RFC3339, eventTime)
	require.NoError(t, err)
	zone, _ := e["eventTimeZoneOffset"].(string)
	require.Regexp(t, offset, zone)
	require.Equal(t, at.Format("-07:00"), zone)
	require.Regexp(t, uri, e["eventID"])
	require.Contains(t, bizSteps, e["bizStep"])
	if disposition, said := e["disposition"]; said {
		require.Contains(t, dispositions, disposition)
	}
	switch kind {
	case "ObjectEvent":
		validObject(t, e)
	case "AggregationEvent":
		validAggregation(t, e)
	default:
		validTransformation(t, e)
	}
	validReferences(t, e)
	for _, list := range []string{"quantityList", "childQuantityList", "inputQuantityList", "outputQuantityList"} {
		quantities, _ := e[list].([]any)
		for _, q := range quantities {
			validQuantity(t, q)
		}
	}
}

// validObject: action is required, and a list of things or one of quantities; ilmd goes with ADD only.
func validObject(t *testing.T, e map[string]any) {
	t.Helper()
	require.Contains(t, []string{"ADD", "OBSERVE", "DELETE"}, e["action"])
	epcs, is := e["epcList"].([]any)
	require.True(t, is, "epcList is an array, also an empty one")
	quantities, _ := e["quantityList"].([]any)
	require.NotZero(t, len(epcs)+len(quantities), "an event is about something")
	once := map[any]bool{}
	for _, epc := range epcs {
		require.Regexp(t, uri, epc)
		require.NotEqual(t, e["eventID"], epc, "what happened is not what it happened to")
		require.False(t, once[epc], "things are listed once")
		once[epc] = true
	}
	require.True(t, e["ilmd"] == nil || e["action"] == "ADD")
}

// validAggregation: action is required, children unless all are taken off; the parent is from memory of the standard's text, which asks
// for it where something is added or taken off.
func validAggregation(t *testing.T, e map[string]any) {
	t.Helper()
	require.Contains(t, []string{"ADD", "DELETE"}, e["action"])
	require.Equal(t, "https://id.gs1.org/00/"+gatetest.SSCC, e["parentID"])
	require.Len(t, e["childQuantityList"], 1)
}

// validTransformation: there is no action, and inputs and outputs, since no transformationID joins several events.
func validTransformation(t *testing.T, e map[string]any) {
	t.Helper()
	for _, list := range []string{"inputEPCList", "outputEPCList", "inputQuantityList", "outputQuantityList"} {
		require.NotEmpty(t, e[list], list)
	}
}

// validReferences: places have an id; a document has its URI and a type of the list; a party both, and nothing else.
func validReferences(t *testing.T, e map[string]any) {
	t.Helper()
	for _, place := range []string{"readPoint", "bizLocation"} {
		if said, is := e[place].(map[string]any); is {
			require.Regexp(t, uri, said["id"], place)
		}
	}
	for list, types := range map[string][]string{"bizTransaction": transactionTypes, "source": partyTypes, "destination": partyTypes} {
		references, _ := e[list+"List"].([]any)
		for _, r := range references {
			reference, is := r.(map[string]any)
			require.True(t, is)
			require.Len(t, reference, 2)
			require.Contains(t, types, reference["type"])
			require.Regexp(t, uri, reference[list])
		}
	}
}

// validQuantity: a class and a number are required, and a unit of two or three characters allowed.
func validQuantity(t *testing.T, q any) {
	t.Helper()
	element, is := q.(map[string]any)
	require.True(t, is)
	require.Subset(t, []string{"epcClass", "quantity", "uom"}, slices.Collect(maps.Keys(element)))
	require.Regexp(t, uri, element["epcClass"])
	require.Positive(t, element["quantity"], "a number, not a text")
	if unit, said := element["uom"]; said {
		require.Regexp(t, unitCode, unit)
	}
}
