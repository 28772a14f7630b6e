package paper_test

import (
	"encoding/csv"
	"net/http"
	"strings"
	"testing"

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
		"Own lorry, 13 Sep 2026", "carrier 555 0111, 1 Creamery Lane", "has 892 jars of lot "+gatetest.LotCode+", best by 13 Sep 2028", "lot "+gatetest.LotCode+", best by 13 Sep 2028 231.5 lb", "sent back besides: 140.0 lb",
		"Harvest Fair", "Valley Freight, 13 Sep 2026", "no contact on record", "has charge T1-26-003, in pail 3, seal 4411", "21 CFR 1.345",
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
	require.Equal(t, []string{"claims", "recall_contact", "address", "carrier", "jars", "containers", "best_by_date", "carrier_address", "carrier_telephone"}, rows[0][14:])
	called := map[string][]string{}
	for _, row := range rows[1:] {
		if row[0] == "customer" || row[0] == "received" {
			called[row[11]] = append(called[row[11]], strings.Join(append([]string{row[0], row[2], row[5]}, row[15:]...), "|"))
		}
	}
	require.Equal(t, map[string][]string{
		"Market Hall Larder": {
			"customer|2026-09-13T16:05:00Z|shipments/5a100000-0000-4000-8000-000000000014|quality desk, 555 0199 day and night|4 Mill Lane, Upper Valley|Own lorry|||" + gatetest.BestBy + "|1 Creamery Lane|555 0111",
			"received||shipments/5a100000-0000-4000-8000-000000000014||||892||" + gatetest.BestBy + "||",
		},
		"Harvest Fair": {
			"customer|2026-09-13T17:05:00Z|shipments/5a100000-0000-4000-8000-000000000015|no contact on record||Valley Freight|||" + gatetest.BestBy + "||",
			"received||shipments/5a100000-0000-4000-8000-000000000015|||||pail 3, seal 4411|||",
		},
	}, called)
	require.Equal(t, strings.Join(claims, "; "), rows[1][14])
	require.Empty(t, rows[2][14], "nothing is claimed of the second barrel")
	require.Equal(t, "140.0", sums["came back"].String())
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
