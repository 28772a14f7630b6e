package lots_test

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
)

func sum(parts []lots.Part) (total quantity.Mass) {
	for _, p := range parts {
		total += p.Mass
	}
	return total
}

// lying is honey of one place within another: of a shipment, what left that place; elsewhere all is mixed.
type lying struct{ in, of lots.Place }

func ends(x lots.Transfer) (from, to lying) {
	from, to = lying{in: x.From, of: x.Of}, lying{in: x.To}
	if x.To.Kind() == lots.Shipment {
		to.of = x.From
	}
	return from, to
}

// books makes a random but possible history: barrels into tanks, tanks into tanks and lots, rework back, losses, shipments, and what
// came back from those into whatever place took it.
func books(t *rapid.T) (map[lots.Place]quantity.Mass, []lots.Transfer) {
	delivered := map[lots.Place]quantity.Mass{}
	has := map[lying]quantity.Mass{}
	var barrels, vessels []lots.Place
	for n := range rapid.IntRange(1, 6).Draw(t, "barrels") {
		p := lots.At(lots.Barrel, fmt.Sprint(n))
		net := quantity.Mass(rapid.Int64Range(1, 700_000).Draw(t, "net"))
		delivered[p], has[lying{in: p}] = net, net
		barrels = append(barrels, p)
	}
	for n := range 3 {
		vessels = append(vessels, lots.At(lots.Charge, fmt.Sprint(n)), lots.At(lots.Pack, fmt.Sprint(n)))
	}
	away := []lots.Place{lots.At(lots.Shipment, "1"), lots.At(lots.Shipment, "2")}
	var sources []lying
	for _, p := range append(append([]lots.Place{}, barrels...), vessels...) {
		sources = append(sources, lying{in: p})
	}
	targets := append(append(append([]lots.Place{}, vessels...), away...), lots.At(lots.Loss, "DRAIN"))
	one := map[lots.Place]bool{} // returns of what left one container
	var transfers []lots.Transfer
	for range rapid.IntRange(0, 40).Draw(t, "transfers") {
		from, to := rapid.SampledFrom(sources).Draw(t, "from"), rapid.SampledFrom(targets).Draw(t, "to")
		if from.in.Kind() == lots.Shipment {
			to = lots.At(lots.Returned, fmt.Sprint(len(transfers)))
			one[to] = from.of.Kind() == lots.Barrel
			sources = append(sources, lying{in: to})
		}
		if from.in == to || has[from] == 0 {
			continue
		}
		if (from.in.Kind() == lots.Barrel || one[from.in]) && rapid.IntRange(0, 3).Draw(t, "split") == 0 {
			to = lots.At(lots.Barrel, fmt.Sprint("pail-", len(transfers)))
			sources = append(sources, lying{in: to})
		}
		x := lots.Transfer{
			Number: int64(len(transfers) + 1), From: from.in, To: to, Mass: quantity.Mass(rapid.Int64Range(1, int64(has[from])).Draw(t, "mass")), Of: from.of,
		}
		_, end := ends(x)
		if _, known := has[end]; !known && to.Kind() == lots.Shipment {
			sources = append(sources, end)
		}
		has[from] -= x.Mass
		has[end] += x.Mass
		transfers = append(transfers, x)
	}
	return delivered, transfers
}

func TestATraceAddsUpToTheThousandthBothWays(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		delivered, transfers := books(t)
		places := map[lots.Place]bool{}
		for p := range delivered {
			places[p] = true
		}
		for _, x := range transfers {
			places[x.To] = true
		}
		for place := range places {
			trace, err := lots.Follow(place, delivered, transfers)
			if err != nil {
				t.Fatal(err)
			}
			if sum(trace.Sources) != trace.Total || sum(trace.Ends) != trace.Total {
				t.Fatalf("%s: total %s, from %s, to %s", place, trace.Total, sum(trace.Sources), sum(trace.Ends))
			}
			for _, s := range trace.Sources {
				if s.Mass > delivered[s.Place] {
					t.Fatalf("%s has %s of %s, of which only %s was delivered", place, s.Mass, s.Place, delivered[s.Place])
				}
			}
		}
	})
}

// reach is the plain search a trace is compared with: every place honey of a barrel can have got to, moment by moment.
func reach(barrel lots.Place, delivered map[lots.Place]quantity.Mass, transfers []lots.Transfer) (ever, now map[lots.Place]bool) {
	in, has := map[lying]bool{{in: barrel}: true}, map[lying]quantity.Mass{}
	for p, net := range delivered {
		has[lying{in: p}] = net
	}
	ever, now = map[lots.Place]bool{barrel: true}, map[lots.Place]bool{}
	for _, x := range transfers {
		from, to := ends(x)
		has[from] -= x.Mass
		has[to] += x.Mass
		if in[from] {
			in[to], ever[x.To] = true, true
		}
		if has[from] == 0 {
			in[from] = false
		}
	}
	for l, is := range in {
		now[l.in] = now[l.in] || is
	}
	return ever, now
}

func among(parts []lots.Part, place lots.Place) bool {
	for _, p := range parts {
		if p.Place == place {
			return true
		}
	}
	return false
}

func TestARecallReachesEveryPlaceHoneyCanHaveGotTo(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		delivered, transfers := books(t)
		places := map[lots.Place]bool{}
		for _, x := range transfers {
			places[x.From], places[x.To] = true, true
		}
		for barrel := range delivered {
			ever, in := reach(barrel, delivered, transfers)
			forward, err := lots.Follow(barrel, delivered, transfers)
			if err != nil {
				t.Fatal(err)
			}
			for place := range places {
				back, err := lots.Follow(place, delivered, transfers)
				if err != nil {
					t.Fatal(err)
				}
				if among(back.Sources, barrel) != ever[place] || among(back.Content, barrel) != in[place] || among(forward.Ends, place) != in[place] {
					t.Fatalf("honey of %s in %s: ever %v, now %v, but traced %v back, %v in it, %v forward", barrel, place,
						ever[place], in[place], among(back.Sources, barrel), among(back.Content, barrel), among(forward.Ends, place))
				}
			}
		}
	})
}

func TestAHeelCarriesTheMembersOfTheChargeBefore(t *testing.T) {
	t.Parallel()
	a, b, first, second := lots.At(lots.Barrel, "a"), lots.At(lots.Barrel, "b"), lots.At(lots.Charge, "1"), lots.At(lots.Charge, "2")
	delivered := map[lots.Place]quantity.Mass{a: 600_000, b: 600_000}
	transfers := []lots.Transfer{
		{Number: 1, From: a, To: first, Mass: 600_000},
		{Number: 2, From: first, To: lots.At(lots.Pack, "p"), Mass: 400_000},
		{Number: 3, From: first, To: second, Mass: 200_000},
		{Number: 4, From: b, To: second, Mass: 600_000},
		{Number: 5, From: second, To: lots.At(lots.Pack, "q"), Mass: 400_000},
	}
	trace, err := lots.Follow(lots.At(lots.Pack, "q"), delivered, transfers)
	require.NoError(t, err)
	require.Equal(t, []lots.Part{{Place: a, Mass: 100_000}, {Place: b, Mass: 300_000}}, trace.Sources)
	var on []int64
	for _, x := range trace.Transfers {
		on = append(on, x.Number)
	}
	require.Equal(t, []int64{1, 3, 4, 5}, on, "the lot packed before the heel is not on the way")
}

func TestReworkInACircleIsCountedOnce(t *testing.T) {
	t.Parallel()
	a, c, p := lots.At(lots.Barrel, "a"), lots.At(lots.Charge, "1"), lots.At(lots.Pack, "p")
	transfers := []lots.Transfer{
		{Number: 1, From: a, To: c, Mass: 600_000},
		{Number: 2, From: c, To: p, Mass: 400_000},
		{Number: 3, From: p, To: c, Mass: 100_000},
		{Number: 4, From: c, To: p, Mass: 300_000},
	}
	trace, err := lots.Follow(p, map[lots.Place]quantity.Mass{a: 600_000}, transfers)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(600_000), trace.Total)
	require.Equal(t, []lots.Part{{Place: p, Mass: 600_000}}, trace.Ends)
	require.Len(t, trace.Transfers, 4)
}

// What came back of one lot carries nothing of another that went with the same lorry, and honey that comes round again is found once.
func TestWhatComesBackIsWhatLeft(t *testing.T) {
	t.Parallel()
	a, b, p, q := lots.At(lots.Barrel, "a"), lots.At(lots.Barrel, "b"), lots.At(lots.Pack, "p"), lots.At(lots.Pack, "q")
	sent, back, again := lots.At(lots.Shipment, "1"), lots.At(lots.Returned, "r"), lots.At(lots.Shipment, "2")
	transfers := []lots.Transfer{
		{Number: 1, From: a, To: p, Mass: 500_000},
		{Number: 2, From: b, To: q, Mass: 300_000},
		{Number: 3, From: p, To: sent, Mass: 400_000},
		{Number: 4, From: q, To: sent, Mass: 300_000},
		{Number: 5, From: sent, To: back, Mass: 250_000, Of: p},
		{Number: 6, From: back, To: p, Mass: 200_000},
		{Number: 7, From: back, To: lots.At(lots.Loss, "DESTROYED"), Mass: 50_000},
		{Number: 8, From: p, To: again, Mass: 120_000},
	}
	delivered := map[lots.Place]quantity.Mass{a: 500_000, b: 300_000}
	trace, err := lots.Follow(p, delivered, transfers)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(500_000), trace.Total, "not counted twice")
	require.Equal(t, []lots.Part{{Place: a, Mass: 500_000}}, trace.Sources)
	require.Equal(t, []lots.Part{{Place: lots.At(lots.Loss, "DESTROYED"), Mass: 50_000}, {Place: p, Mass: 180_000}, {Place: sent, Mass: 150_000}, {Place: again, Mass: 120_000}}, trace.Ends)
	require.Equal(t, []lots.Part{{Place: sent, Mass: 250_000}}, trace.Returned)
	book := bookOf(t, transfers)
	require.Equal(t, []lots.Place{p, back, sent, a}, book.MadeOf(back))
	require.Equal(t, []lots.Place{p}, book.Reached(a), "the barrel is empty, and all that came back was decided about")
	require.Empty(t, book.Reached(b), "nothing of it came back")
	whole, err := book.Follow(sent, 0)
	require.NoError(t, err)
	require.Equal(t, quantity.Mass(700_000), whole.Total, "what a shipment brought is shared by all it carried")
	require.Equal(t, whole.Total, sum(whole.Ends))
}

func TestBooksThatDoNotAgreeAreAnError(t *testing.T) {
	t.Parallel()
	a, c := lots.At(lots.Barrel, "a"), lots.At(lots.Charge, "1")
	_, err := lots.Follow(c, map[lots.Place]quantity.Mass{a: 600_000}, []lots.Transfer{{Number: 1, From: a, To: c, Mass: 600_001}})
	over, ok := errors.AsType[*lots.OverdrawnError](err)
	require.True(t, ok)
	require.Equal(t, "0.001", over.Metadata()["difference"])
	require.EqualError(t, over, "stock/a holds 600.0 by the books and 600.001 cannot be taken from it: 0.001 more is unexplained")
	asked := &lots.OverdrawnError{Place: a, Called: "drum FC-00003", Has: 600_000, Asked: 9_600_000, Unit: quantity.LB}
	require.EqualError(t, asked, "drum FC-00003 holds 600.0 lb by the books and 9,600.0 lb cannot be taken from it: 9,000.0 lb more is unexplained")
	require.Equal(t, map[string]string{"resource": "stock/a", "difference": "9000.0"}, asked.Metadata(), "programs keep the name and the number")
}

func TestRulesAreJudgedExactly(t *testing.T) {
	t.Parallel()
	wet, limit, dark, light := quantity.Percent(1860), quantity.Percent(1860), blend.Pfund(50_00), blend.Pfund(50_00)
	rules := lots.Rules{Variety: "clover", MinShare: 4500, MaxMoisture: &limit, MaxPfund: &dark, MinPfund: &light}
	clover := lots.Ingredient{Mass: 45_000, Variety: "clover", Member: "m1", Moisture: &wet, Pfund: &dark}
	other := lots.Ingredient{Mass: 55_000, Variety: "goldenrod", Member: "m2", Moisture: &wet, Pfund: &dark}
	f := rules.Judge([]lots.Ingredient{clover, other})
	require.Empty(t, f.Breaches, "every limit includes its own value")
	require.Equal(t, "18.6", f.Moisture.String())
	require.Equal(t, 2, f.Members)

	other.Mass = 55_001
	f = rules.Judge([]lots.Ingredient{clover, other})
	require.Equal(t, []lots.Breach{{Limit: blend.MinShare, Value: "45.0", Allowed: "45.0"}}, f.Breaches, "a thousandth too much is too much, whatever the rounded figure says")

	other.Moisture, other.Pfund = nil, nil
	f = rules.Judge([]lots.Ingredient{clover, other})
	require.Len(t, f.Breaches, 4, "what is not graded cannot be shown to keep a rule")
	require.Nil(t, f.Moisture)
	require.Empty(t, lots.Rules{}.Judge(nil).Breaches)
}

func TestScanTakesPlannedBarrelsAndRecordedSubstitutions(t *testing.T) {
	t.Parallel()
	planned, other := uuid.New(), uuid.New()
	f := lots.Filling{ID: uuid.New(), Code: "T-1-26-003", Picks: []uuid.UUID{planned}, Current: true}
	s, err := f.Scan(planned, "FC-00442", uuid.Nil, "", "users/wh1", time.Time{})
	require.NoError(t, err)
	require.Nil(t, s)
	_, err = f.Scan(other, "FC-00424", uuid.Nil, "", "users/wh1", time.Time{})
	mismatch, ok := errors.AsType[*lots.MismatchError](err)
	require.True(t, ok)
	require.Equal(t, "FC-00424", mismatch.Metadata()["drum"])
	_, err = f.Scan(other, "FC-00424", planned, "", "users/wh1", time.Time{})
	require.Error(t, err, "a substitution needs its reason")
	s, err = f.Scan(other, "FC-00424", planned, "leaking", "users/wh1", time.Time{})
	require.NoError(t, err)
	f.Substitutions = append(f.Substitutions, *s)
	require.Empty(t, f.OpenPicks())
	_, err = f.Scan(uuid.New(), "FC-00001", planned, "also", "users/wh1", time.Time{})
	var unplanned *lots.NotPlannedError
	require.ErrorAs(t, err, &unplanned)
	unplanned.Called = "drum FC-00442"
	require.EqualError(t, unplanned, "drum FC-00442 is not an open pick of charge T-1-26-003")
	require.Equal(t, map[string]string{"resource": string(lots.Of(lots.Barrel, planned)), "state": "NOT_PICKED"}, unplanned.Metadata())
	s, err = f.Scan(other, "FC-00424", uuid.Nil, "", "users/wh1", time.Time{})
	require.NoError(t, err, "the rest of a substitute needs no second record")
	require.Nil(t, s)
}

func TestLotCodeHasItsCheckCharacterAndNothingOfMembers(t *testing.T) {
	t.Parallel()
	code, err := lots.LotCode("FC", "T-1", time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), 3)
	require.NoError(t, err)
	require.NoError(t, checkdigit.ValidCode(code))
	require.Equal(t, "FC26329T103", code[:len(code)-1])
	same, err := lots.LotCode("FC", "T1", time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), 3)
	require.NoError(t, err)
	require.Equal(t, code, same, "which is why no house has both")
	require.Equal(t, lots.TankInCode("T1"), lots.TankInCode("T-1"))
	_, err = lots.LotCode("FC", "T-1", time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), 100)
	require.ErrorContains(t, err, "99 lots a day", "codes of one tank are alike in length")
}

// The codes that leave the house fit the GS1 application identifiers they stand under.
func TestCodesFitTheirApplicationIdentifiers(t *testing.T) {
	t.Parallel()
	day, table := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), published.Load(t, "gs1_ai.csv")
	batch := published.Where(table, "ai", "10")[0]
	most, err := strconv.Atoi(strings.TrimPrefix(batch.Text("format"), "X.."))
	require.NoError(t, err, batch.Source())
	tank := strings.Repeat("T", most-len("FC")-len("26329")-len("01")-len("C"))
	code, err := lots.LotCode("FC", tank, day, 1)
	require.NoError(t, err)
	require.Len(t, code, most, batch.Source())
	_, err = lots.LotCode("FC", tank+"T", day, 1)
	require.ErrorContains(t, err, "give the tank a shorter name")

	container := published.Where(table, "ai", "00")[0]
	sscc, err := lots.PalletCode("0614141", 1)
	require.NoError(t, err)
	require.Equal(t, container.Text("format"), fmt.Sprintf("N%d check digit", len(sscc)), container.Source())
	require.NoError(t, checkdigit.ValidGS1(sscc))
	require.Equal(t, "no", container.Text("fnc1_needed_if_not_last"), "its length is known")
}

func TestJarsTakeTheirShareAndTheLastTakesTheRest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := lots.Run{Content: quantity.Mass(rapid.Int64Range(1, 5_000_000).Draw(t, "content")), Closed: true}
		r.OnHand = rapid.Int64Range(1, 5000).Draw(t, "jars")
		left, total := r.Content, quantity.Mass(0)
		for r.OnHand > 0 {
			jars := rapid.Int64Range(1, r.OnHand).Draw(t, "shipped")
			mass, err := r.Take(jars)
			if err != nil {
				t.Fatal(err)
			}
			r.Content -= mass
			r.OnHand -= jars
			total += mass
		}
		if total != left {
			t.Fatalf("shipped %s of %s", total, left)
		}
	})
}

func TestARunIsFinishedToTheTenth(t *testing.T) {
	t.Parallel()
	r := lots.Run{ID: uuid.New(), Content: 1_000_049}
	_, err := r.Finish(1000, 1000, quantity.LB)
	require.NoError(t, err)
	r.Content = 1_000_050
	_, err = r.Finish(1000, 1000, quantity.LB)
	unexplained, ok := errors.AsType[*lots.UnexplainedError](err)
	require.ErrorContains(t, err, "0.05 lb is unexplained")
	require.True(t, ok)
	require.Equal(t, "0.05", unexplained.Metadata()["difference"])
}
