package e2e

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/prototext"

	"barrelhead.example/deploy/season"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
)

// TestSpecialCases works a season twice, a year apart, with its pool closed below the advance, and finds a shared load, an estate, a lien,
// an over-advance, an appeal won and one lost, and a composite with a residue in it, each once. What the warehouse packs of it, cut
// short again and again, is packed once too, and changes nothing of what members are paid.
func TestSpecialCases(t *testing.T) {
	t.Parallel()
	w := newWorld(t, season.Size{Members: 12, Barrels: 90})
	var first books
	var paid []*settlementv1.PaymentBatch
	var packed *season.Packed
	for i := range 2 {
		require.NoError(t, w.crew.Work(t.Context(), w.client, "admin", season.Password))
		_, err := w.crew.Settled(t.Context(), time.Minute)
		require.NoError(t, err)
		require.NoError(t, w.crew.ClosePool(t.Context()))
		require.NoError(t, w.crew.ScreenResidues(t.Context()))
		batch, err := w.crew.PayMembers(t.Context())
		require.NoError(t, err)
		paid = append(paid, batch)
		again := settled(t, w.crew)
		if i == 0 {
			first, packed = again, packInPieces(t, w)
			again = settled(t, w.crew)
			w.clock.pass(366)
			year, err := season.CropYear(t.Context(), w.client, time.Now().AddDate(1, 0, 0))
			require.NoError(t, err)
			require.Equal(t, w.year, year, "a season goes on with its crop year in the next one")
		} else {
			packedOnce(t, w, packed)
		}
		require.Equal(t, first, again, "a season run twice has no second effect")
	}
	require.Equal(t, settlementv1.PaymentState_PAYMENT_STATE_RELEASED, paid[0].GetState())
	require.Len(t, paid[0].GetPayments(), 5)
	require.Equal(t, prototext.Format(paid[0]), prototext.Format(paid[1]), "nobody is paid twice")
	office := w.crew.Session("office")
	shares, owed := map[string]bool{}, 0
	for _, m := range w.crew.Season.Members {
		var page settlementv1.ListPayoutsResponse
		require.NoError(t, office.Get(t.Context(), "/v1/members/"+m.Number+"/payouts?page_size=1000", &page))
		for _, p := range page.GetPayouts() {
			shares[p.GetSharePercent()] = true
			if p.GetKind() == settlementv1.PayoutKind_PAYOUT_KIND_FINAL && strings.HasPrefix(p.GetNetAmount().GetAmount(), "-") {
				require.Contains(t, p.GetHeadline(), "nothing is collected by surprise")
				owed++
			}
		}
	}
	for _, share := range []string{"60", "40", "33.3334", "33.3333"} {
		require.True(t, shares[share], "nobody owns %s %% of a barrel", share)
	}
	require.Positive(t, owed, "no final is below its advance")
	var notices settlementv1.ListEncumbrancesResponse
	require.NoError(t, office.Get(t.Context(), "/v1/encumbrances", &notices))
	require.Len(t, notices.GetEncumbrances(), 1)
	var pools settlementv1.ListPoolsResponse
	require.NoError(t, office.Get(t.Context(), "/v1/pools", &pools))
	require.Len(t, pools.GetPools(), 2)
	require.Equal(t, settlementv1.PoolState_POOL_STATE_OPEN, pools.GetPools()[0].GetState())
	require.Equal(t, "9507.50", pools.GetPools()[0].GetDistributable().GetAmount(), "what was packed brought and cost")
	require.Equal(t, settlementv1.PoolState_POOL_STATE_CLOSED, pools.GetPools()[1].GetState())
	secondLooks(t, w)
	residues(t, w)
}

// secondLooks finds the appeal that was won and the one that was lost.
func secondLooks(t *testing.T, w *world) {
	t.Helper()
	var appeals gradingv1.ListAppealsResponse
	require.NoError(t, w.crew.Session("office").Get(t.Context(), "/v1/appeals", &appeals))
	upheld := map[bool]int{}
	for _, a := range appeals.GetAppeals() {
		upheld[a.GetUpheld()]++
	}
	require.Equal(t, map[bool]int{true: 1, false: 1}, upheld)
}

// residues finds every barrel of the composite held for residues, and all of them released again but the one that has them.
func residues(t *testing.T, w *world) {
	t.Helper()
	require.Eventually(t, func() bool {
		var holds inventoryv1.ListHoldsResponse
		require.NoError(t, w.crew.Session("office").Get(t.Context(), "/v1/holds?page_size=1000", &holds))
		open, ended := 0, 0
		for _, h := range holds.GetHolds() {
			switch {
			case h.GetPlacer() != "grading":
			case h.GetReleaser() == "":
				open++
			default:
				ended++
			}
		}
		return open == 1 && ended >= 1
	}, time.Minute, 50*time.Millisecond)
}
