package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
)

// However containers come back, what was charged for them is given back to the cent once all are, and never more before.
func TestDepositsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		b := domain.ContainerBalance{Moved: map[domain.MoveKind]int64{}}
		var lots domain.Lots
		stands := quantity.Money(0)
		play := func(m domain.ContainerMove, rate quantity.Money) {
			m = b.Charge(m, rate, lots)
			if m.Kind == domain.GivenOut {
				lots = append(lots, domain.Lot{Count: int64(m.Count), Rate: m.Rate})
			}
			b.Moved[m.Kind] += int64(m.Count)
			if stands += m.Deposit; stands < 0 {
				t.Fatalf("deposits stand at %s", stands)
			}
		}
		for range rapid.IntRange(1, 40).Draw(t, "moves") {
			left := b.Out()
			if left == 0 || rapid.Bool().Draw(t, "out") {
				play(domain.ContainerMove{Kind: domain.GivenOut, Count: rapid.IntRange(1, 10_000).Draw(t, "count")}, quantity.Money(rapid.Int64Range(0, 100_000_000).Draw(t, "rate")))
				continue
			}
			kind := rapid.SampledFrom([]domain.MoveKind{domain.BackFull, domain.BackEmpty}).Draw(t, "kind")
			play(domain.ContainerMove{Kind: kind, Count: int(rapid.Int64Range(1, min(left, 10_000)).Draw(t, "back"))}, 7)
		}
		for b.Out() > 0 {
			play(domain.ContainerMove{Kind: domain.BackEmpty, Count: int(min(b.Out(), 10_000))}, 7)
		}
		require.Zero(t, stands)
	})
}

func TestASealForEachPortion(t *testing.T) {
	t.Parallel()
	require.NoError(t, domain.VetSeals([]domain.Seal{{Letter: "A"}, {Letter: "C"}}))
	require.Equal(t, "portion C is sealed twice: name each portion once", domain.VetSeals([]domain.Seal{{Letter: "C"}, {Letter: "A"}, {Letter: "C"}}).Error())
}

// Who has a share in a delivery reads nothing of how another brought it, and nothing of samples that are another's by now.
func TestWhatAShareOwnerDoesNotRead(t *testing.T) {
	t.Parallel()
	ticket := domain.Ticket{
		Member: "M-0001", State: domain.Superseded, Hauler: "the brother", Vehicle: "flatbed 41-XK", Remarks: "dented", Driver: "R. Miller",
		Owners:  domain.Owners{{Member: "M-0001", Share: 60_0000}, {Member: "M-0002", Share: 40_0000}},
		Barrels: []domain.Barrel{{Member: "M-0001", Sample: "2C4D6F8HJ", Seals: []domain.Seal{{Letter: "A", Number: "S-1"}}}},
	}
	seen := ticket.AsSeenBy("M-0002")
	require.Empty(t, seen.Vehicle+seen.Remarks+seen.Driver+seen.Hauler+seen.Member)
	require.Empty(t, seen.Barrels[0].Sample)
	require.Empty(t, seen.Barrels[0].Seals)
	require.Equal(t, "flatbed 41-XK", ticket.AsSeenBy("M-0001").Vehicle)
	require.Len(t, ticket.Barrels[0].Seals, 1, "the ticket itself stays as it is")
}
