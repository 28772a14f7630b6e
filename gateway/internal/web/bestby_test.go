package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/gateway/internal/gatetest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

func TestBestBy_IsShownWhereTheLotIs(t *testing.T) {
	t.Parallel()
	w := gatetest.New(t)
	office, line := w.Browser("office1"), w.Browser("line1")
	label := func(months string) int32 {
		send(t, office, w.URL+"/labels/new", url.Values{"label_id": {"c-1"}, "title": {"Clover honey"}, "shelf_life_months": {months}})
		return last(t, w, &inventoryv1.CreateLabelRequest{}).GetShelfLifeMonths()
	}
	require.Equal(t, int32(30), label("30"))
	require.Zero(t, label(""))
	answer, body := send(t, office, w.URL+"/labels/new", url.Values{"label_id": {"c-1"}, "title": {"Clover honey"}, "shelf_life_months": {"two years"}})
	require.Equal(t, http.StatusUnprocessableEntity, answer.StatusCode, "what cannot be read is refused, not left out")
	require.Contains(t, body, "it must be at least 0 and at most 60")
	_, body = open(t, line, w.URL+"/labels")
	require.Contains(t, body, "Keeps for 24 months")
	for _, page := range []string{"/lots/" + gatetest.LotID, "/pallets/" + gatetest.PalletID} {
		_, body = open(t, line, w.URL+page)
		require.Contains(t, body, "13 Sep 2028", page)
	}
	_, body = open(t, office, w.URL+"/trace?code="+gatetest.LotCode)
	require.Contains(t, body, "Best by 13 Sep 2028.", "the lot asked about")
	require.Contains(t, body, "892 jars of "+gatetest.LotCode+", best by 13 Sep 2028", "what the customer has")
	_, body = open(t, line, w.URL+"/lots/"+gatetest.RunningID)
	require.NotContains(t, body, "Best by", "a lot of before has none")
}
