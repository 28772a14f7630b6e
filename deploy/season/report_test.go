package season

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

func TestABarrelPricedByHandStandsInForNoneOfTheSeason(t *testing.T) {
	t.Parallel()
	answers := map[string]proto.Message{
		"/v1/memberTotals": &settlementv1.ListMemberTotalsResponse{
			MemberTotals: []*settlementv1.MemberTotal{{Member: "members/M-0001"}}, GrandTotal: &settlementv1.MemberTotal{PricedBarrels: 2},
		},
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := protojson.Marshal(answers[r.URL.Path])
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		_, _ = w.Write(body)
	}))
	t.Cleanup(server.Close)
	load := Delivery{Index: 0, Barrels: make([]Barrel, 2)}
	c := &Crew{
		Season: Season{CropYear: 2026, Deliveries: []Delivery{load}}, total: 2,
		sessions: map[string]*Session{"office": {client: NewClient(server.URL, time.Second)}},
	}
	answer := func(priced []string, waiting ...string) {
		payouts, unpriced := &settlementv1.ListPayoutsResponse{}, &settlementv1.ListUnpricedResponse{}
		for _, name := range priced {
			payouts.Payouts = append(payouts.Payouts, &settlementv1.Payout{Barrel: name})
		}
		for _, name := range waiting {
			unpriced.Unpriced = append(unpriced.Unpriced, &settlementv1.Unpriced{Barrel: name})
		}
		answers["/v1/members/M-0001/payouts"], answers["/v1/unpriced"] = payouts, unpriced
	}
	one, two := c.barrel(load, 0), c.barrel(load, 1)

	answer([]string{one, "barrels/by-hand"}, two)
	_, err := c.Settled(t.Context(), 0)
	require.EqualError(t, err, "after 0s only 1 of 2 barrels are priced")
	answer([]string{one, "barrels/by-hand"})
	_, err = c.Settled(t.Context(), 0)
	require.Error(t, err, "the other has not even reached the settlement")
	answer([]string{one, two}, two)
	_, err = c.Settled(t.Context(), 0)
	require.Error(t, err, "its price was taken back")
	answer([]string{one, two, one}, "barrels/by-hand")
	r, err := c.Settled(t.Context(), 0)
	require.NoError(t, err)
	require.Equal(t, 1, r.Waiting)
}
