package lots_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
)

// shuffled brings transfers into another order in which each place still sees its own as they were, as when one that began
// earlier commits later.
func shuffled(t *rapid.T, transfers []lots.Transfer) []lots.Transfer {
	out := slices.Clone(transfers)
	for range rapid.IntRange(0, 60).Draw(t, "swaps") {
		if len(out) < 2 {
			break
		}
		i := rapid.IntRange(0, len(out)-2).Draw(t, "swap")
		a, b := out[i], out[i+1]
		if a.From != b.From && a.From != b.To && a.To != b.From && a.To != b.To {
			out[i], out[i+1] = b, a
		}
	}
	return out
}

func bookOf(t interface{ Fatal(args ...any) }, transfers []lots.Transfer) *lots.Book {
	book := lots.NewBook()
	for _, x := range transfers {
		if err := book.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	return book
}

// held are the parts that are there to the thousandth.
func held(parts []lots.Part) []lots.Part {
	return slices.DeleteFunc(slices.Clone(parts), func(p lots.Part) bool { return p.Mass == 0 })
}

// After every single transfer the book answers, for every place, what the plain replay of the transfers does: whatever the order
// they became known in, with rework in circles, split containers and losses.
func TestTheBookTracesLikeTheTransfersAfterEveryChange(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		delivered, transfers := books(t)
		cut := rapid.IntRange(0, len(transfers)).Draw(t, "known")
		transfers = transfers[:cut]
		book := bookOf(t, shuffled(t, transfers))
		pending := rapid.IntRange(0, len(transfers)).Draw(t, "in the book")
		before := bookOf(t, transfers[:pending])
		places := map[lots.Place]bool{}
		for p := range delivered {
			places[p] = true
		}
		for _, x := range transfers {
			places[x.From], places[x.To] = true, true
		}
		for place := range places {
			want, err := lots.Follow(place, delivered, transfers)
			if err != nil {
				t.Fatal(err)
			}
			got, err := book.Follow(place, delivered[place])
			if err != nil {
				t.Fatal(err)
			}
			same(t, want, got)
			if !slices.Contains([]lots.Kind{lots.Charge, lots.Pack, lots.Returned}, place.Kind()) {
				continue
			}
			content, err := before.Content(place, transfers[pending:])
			if err != nil {
				t.Fatal(err)
			}
			if fmt.Sprint(content) != fmt.Sprint(held(want.Content)) {
				t.Fatalf("%s holds %v, by the replay %v", place, content, want.Content)
			}
		}
	})
}

func same(t *rapid.T, want, got *lots.Trace) {
	w, g := *want, *got
	w.Content, g.Content = nil, nil
	if fmt.Sprint(w) != fmt.Sprint(g) {
		t.Fatalf("%s:\nreplay %v\nbook   %v", want.Place, w, g)
	}
}

func TestABookThatDoesNotAgreeSaysWhere(t *testing.T) {
	t.Parallel()
	book := lots.NewBook()
	require.NoError(t, book.Add(lots.Transfer{Number: 1, From: "stock/a", To: "charges/1", Mass: 600_000}))
	require.ErrorContains(t, book.Add(lots.Transfer{Number: 2, From: "charges/1", To: "packLots/p", Mass: 600_001}), "charges/1 holds 600.0 by the books")
}

// A million transfers with a known truth: chains of heels that are cut where a tank was verified empty, rework in circles, and
// pumping between tanks. A recall finds all of the honey, whichever way it is asked, and the barrels are those of the chain.
func TestAMillionTransfersAreTracedCompletely(t *testing.T) {
	t.Parallel()
	const chains, perChain, barrels = 1700, 12, 18
	book, number := lots.NewBook(), int64(0)
	pour := func(from, to lots.Place, mass quantity.Mass) {
		number++
		if err := book.Add(lots.Transfer{Number: number, From: from, To: to, Mass: mass}); err != nil {
			t.Fatal(err)
		}
	}
	at := func(kind lots.Kind, c, n, k int) lots.Place { return lots.At(kind, fmt.Sprint(c, "-", n, "-", k)) }
	for c := range chains {
		for n := range perChain {
			charge, lot := at(lots.Charge, c, n, 0), at(lots.Pack, c, n, 0)
			content := quantity.Mass(0)
			if n > 0 {
				pour(at(lots.Charge, c, n-1, 0), charge, 300_000)
				content = 300_000
			}
			for k := range barrels {
				pour(at(lots.Barrel, c, n, k), charge, 636_000)
				pour(at(lots.Barrel, c, n, k), lots.At(lots.Loss, "DRAIN"), 4_000)
				content += 636_000
			}
			pour(charge, lot, 5_000_000)
			pour(lot, charge, 100_000) // rework, in a circle
			left := content - 4_900_000
			if n < perChain-1 {
				left -= 300_000 // the heel
			}
			pour(charge, lot, left)
			for k := range 12 {
				pour(lot, at(lots.Shipment, c, n, k), (left+4_900_000)/12-quantity.Mass(k%2))
			}
		}
	}
	require.GreaterOrEqual(t, book.Len(), 1_000_000)
	r := rand.New(rand.NewPCG(7, 7))
	for range 200 {
		c, n := r.IntN(chains), r.IntN(perChain)
		for _, place := range []lots.Place{at(lots.Pack, c, n, 0), at(lots.Barrel, c, n, r.IntN(barrels)), at(lots.Charge, c, n, 0), at(lots.Shipment, c, n, 3)} {
			trace, err := book.Follow(place, 640_000)
			require.NoError(t, err)
			require.Equal(t, trace.Total, sum(trace.Sources), place)
			require.Equal(t, trace.Total, sum(trace.Ends), "all of it is found: %s", place)
			if place.Kind() == lots.Pack {
				require.Len(t, trace.Sources, barrels*(n+1), "every barrel of the chain so far, and no other")
			}
			for _, e := range trace.Ends {
				if e.Place.Kind() == lots.Shipment {
					require.Contains(t, string(e.Place), fmt.Sprintf("/%d-", c), "no other chain is reached")
				}
			}
		}
	}
}
