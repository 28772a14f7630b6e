package paper_test

import (
	"encoding/csv"
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	"barrelhead.example/services/kit/quantity"
)

func TestARecallPackNamesCustomersBarrelsAndEveryTransferWithItsPounds(t *testing.T) {
	t.Parallel()
	as := callers(t)
	pdf := as("auditor1").get("/v1/stock/"+gatetest.StockID+"/recall.pdf", "application/pdf")
	text := strings.Join(strings.Fields(textOf(t, pdf)), " ")
	claims := []string{
		"organic: declared with certificate OC-2231, test report R-7 supports it, approved on certificate OC-2231, file 7",
		"upper valley: declared with certificate OC-2231, test report R-7 contradicts it, approval withdrawn (test report R-7 contradicts it)",
		"wild: declared without a certificate, not tested, not approved",
	}
	for _, want := range append(claims, "100.0 % of 1,283.5 lb found", "Market Hall Larder", "call quality desk, 555 0199 day and night", "at 4 Mill Lane, Upper Valley", "900.0 lb",
		"Own lorry, 13 Sep 2026", "has 892 jars of lot "+gatetest.LotCode+", best by 13 Sep 2028", "lot "+gatetest.LotCode+", best by 13 Sep 2028 371.5 lb",
		"Harvest Fair", "Valley Freight, 13 Sep 2026", "no contact on record", "has tank T1, charge c4a60000, in pail 3, seal 4411", "21 CFR 1.345",
		"5a100000-0000-4000-8000-000000000014", "5a100000-0000-4000-8000-000000000015", "drum FC-04418",
	 "Every transfer on the way", "The books took", "13 ms", "infants under 12 months", "24 hours") {
		require.Contains(t, text, want)
	}
	file := as("auditor1").get("/v1/packLots/"+gatetest.LotCode+"/recall.csv", "text/csv; charset=utf-8; header=present")
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(file), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	sums := map[string]quantity.Mass{}
	for _, row := range rows[1:] {
		if row[0] == "received" {
			require.Empty(t, row[7], "the weight is that of the shipment, once")
			continue
		}
		m, err := quantity.ParseMass(row[7])
		require.NoError(t, err)
		sums[row[0]] += m
	}
	require.Equal(t, "1283.5", sums["source"].String())
	require.Equal(t, []string{"claims", "recall_contact", "address", "carrier", "jars", "containers", "best_by_date"}, rows[0][14:])
	called := map[string][]string{}
	for _, row := range rows[1:] {
		if row[0] == "customer" || row[0] == "received" {
			called[row[11]] = append(called[row[11]], strings.Join(append([]string{row[0], row[2], row[5]}, row[15:]...), "|"))
		}
	}
	require.Equal(t, map[string][]string{
		"Market Hall Larder": {
			"customer|2026-09-13T16:05:00Z|shipments/5a100000-0000-4000-8000-000000000014|quality desk, 555 0199 day and night|4 Mill Lane, Upper Valley|Own lorry|||" + gatetest.BestBy,
			"received||shipments/5a100000-0000-4000-8000-000000000014||||892||" + gatetest.BestBy,
		},
		"Harvest Fair": {
			"customer|2026-09-13T17:05:00Z|shipments/5a100000-0000-4000-8000-000000000015|no contact on record||Valley Freight|||" + gatetest.BestBy,
			"received||shipments/5a100000-0000-4000-8000-000000000015|||||pail 3, seal 4411|",
		},
	}, called)
	require.Equal(t, strings.Join(claims, "; "), rows[1][14])
	require.Empty(t, rows[2][14], "nothing is claimed of the second barrel")
	require.Equal(t, sums["source"], sums["customer"]+sums["in the house"], "all of it is found in the file too")
	require.Positive(t, sums["transfer"])
	answer, _ := as("auditor1").send("GET", "/v1/packLots/NOBODYS/recall.pdf", nil)
	require.Equal(t, http.StatusNotFound, answer.StatusCode)
}

// callers are programs with the tokens of people.
func callers(t *testing.T) func(login string) client {
	t.Helper()
	w := gatetest.New(t)
	known := map[string]client{}
	return func(login string) client {
		if _, is := known[login]; !is {
			known[login] = client{t, w.URL, w.Token(login)}
		}
		return known[login]
	}
}

// Steps and dispositions of GS1's Core Business Vocabulary 2.0, from memory of the published standard.
var (
	bizSteps = strings.Fields(`accepting arriving assembling collecting commissioning consigning creating_class_instance cycle_counting decommissioning departing destroying
		disassembling dispensing encoding entering_exiting holding inspecting installing killing loading other packing picking receiving removing repackaging repairing
		replacing reserving retail_selling sampling sensor_reporting shipping staging_outbound stock_taking stocking storing transporting unloading unpacking void_shipping`)
	dispositions = strings.Fields(`active available completeness_inferred completeness_verified conformant container_closed container_open damaged destroyed dispensed disposed
		encoded expired in_progress in_transit inactive mismatch_class mismatch_instance mismatch_quantity needs_replacement no_pedigree_match non_conformant
		non_sellable_other partially_dispensed recalled reserved retail_sold returned sellable_accessible sellable_not_accessible stolen unavailable unknown`)
	uri    = regexp.MustCompile(`^[a-z][a-z0-9+.-]*:[^\s]+$`)
	offset = regexp.MustCompile(`^[+-]((0[0-9]|1[0-3]):[0-5][0-9]|14:00)$`)
)

func TestEventsOfTheHouseAreAnEPCISDocument(t *testing.T) {
	t.Parallel()
	as := callers(t)
	path := "/v1/traceEvents.jsonld?from_date=2026-09-01&through_date=2026-09-30"
	var d struct {
		Context       []string `json:"@context"`
		Type          string
		SchemaVersion string
		CreationDate  string
		EpcisBody     struct {
			EventList []map[string]any
		}
	}
	require.NoError(t, json.Unmarshal(as("auditor1").get(path, "application/ld+json"), &d))
	require.Equal(t, "EPCISDocument", d.Type)
	require.Equal(t, "2.0", d.SchemaVersion)
	require.NotEmpty(t, d.Context)
	_, err := time.Parse(time.RFC3339, d.CreationDate)
	require.NoError(t, err)
	require.Len(t, d.EpcisBody.EventList, 10, "both pages")
	seen, ids := map[string]int{}, map[any]bool{}
	for _, e := range d.EpcisBody.EventList {
		kind, _ := e["type"].(string)
		seen[kind]++
		require.False(t, ids[e["eventID"]], "an event has an id of its own")
		ids[e["eventID"]] = true
		validEvent(t, kind, e)
	}
	require.Equal(t, map[string]int{"ObjectEvent": 6, "TransformationEvent": 2, "AggregationEvent": 2}, seen)
	require.Contains(t, fmtJSON(t, d.EpcisBody.EventList[4]), "https://id.gs1.org/01/04012345678901/10/"+gatetest.LotCode)

	answer, _ := as("auditor1").send("GET", "/v1/traceEvents.jsonld?from_date=2026-09-30&through_date=2026-09-01", nil)
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
	answer, _ = as("auditor1").send("GET", path+"&member=M-0001", nil)
	require.Equal(t, http.StatusBadRequest, answer.StatusCode)
	answer, _ = as("dock1").send("GET", path, nil)
	require.Equal(t, http.StatusForbidden, answer.StatusCode)
}

func fmtJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

// validEvent checks what the standard requires of an event.
func validEvent(t *testing.T, kind string, e map[string]any) {
	t.Helper()
	eventTime, _ := e["eventTime"].(string)
	at, err := time.Parse(time.RFC3339, eventTime)
	require.NoError(t, err)
	zone, _ := e["eventTimeZoneOffset"].(string)
	require.Regexp(t, offset, zone)
	require.Equal(t, at.Format("-07:00"), zone)
	require.Contains(t, bizSteps, e["bizStep"])
	require.Contains(t, dispositions, e["disposition"])
	require.Regexp(t, uri, e["eventID"])
	if kind == "ObjectEvent" {
		require.Contains(t, []string{"ADD", "OBSERVE", "DELETE"}, e["action"])
		epcs, is := e["epcList"].([]any)
		require.True(t, is, "epcList is an array, also an empty one")
		quantities, _ := e["quantityList"].([]any)
		require.NotZero(t, len(epcs)+len(quantities), "an event is about something")
		for _, epc := range epcs {
			require.Regexp(t, uri, epc)
			require.NotEqual(t, e["eventID"], epc, "what happened is not what it happened to")
		}
	} else if kind == "AggregationEvent" {
		require.Contains(t, []string{"ADD", "DELETE"}, e["action"])
		require.Equal(t, "https://id.gs1.org/00/"+gatetest.SSCC, e["parentID"])
		require.Len(t, e["childQuantityList"], 1)
		require.NotContains(t, e, "epcList")
	} else {
		require.NotContains(t, e, "action", "a transformation has no action")
		require.NotEmpty(t, e["inputEPCList"])
		require.NotEmpty(t, e["outputEPCList"])
	}
	for _, list := range []string{"quantityList", "childQuantityList", "inputQuantityList", "outputQuantityList"} {
		quantities, _ := e[list].([]any)
		for _, q := range quantities {
			element, is := q.(map[string]any)
			require.True(t, is)
			require.Regexp(t, uri, element["epcClass"])
			require.Positive(t, element["quantity"], "a number, not a text")
		}
	}
}
