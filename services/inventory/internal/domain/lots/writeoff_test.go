package lots_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/kit/quantity"
)

func TestAWriteOffIsDecidedOnceAndNotByWhoAskedNorByWhoseHoneyItIs(t *testing.T) {
	t.Parallel()
	decided := time.Date(2026, 11, 29, 15, 0, 0, 0, time.UTC)
	o := lots.WriteOff{ID: uuid.New(), Place: "charges/7", Mass: 12_500, Asker: "users/wh1", Reason: "dipped twice"}
	require.Equal(t, "WAITING", o.State())
	require.NoError(t, o.MayDecide("users/office1", false))
	require.Equal(t, "users/wh1 asked: dipped twice", o.Booking(), "both names, with who books it")
	var same *lots.AskerError
	require.ErrorAs(t, o.MayDecide("users/wh1", true), &same)
	require.Equal(t, map[string]string{"first": "users/wh1"}, same.Metadata())

	var own *lots.InterestedError
	require.ErrorAs(t, o.MayDecide("users/office1", true), &own)
	require.Equal(t, "STATE_FORBIDS", own.Reason())
	require.Equal(t, map[string]string{"resource": o.Name(), "state": "INTERESTED"}, own.Metadata())
	require.EqualError(t, own, "your own honey is in what is asked to be written off: another person of the office must decide")

	require.NoError(t, o.MayWithdraw("users/wh1", false, true), "who asked may, whoever's honey it is")
	require.NoError(t, o.MayWithdraw("users/office1", true, false))
	require.Equal(t, own, o.MayWithdraw("users/office1", true, true))
	var not *lots.NotAskerError
	require.ErrorAs(t, o.MayWithdraw("users/line1", false, false), &not)
	require.Equal(t, "NOT_ALLOWED", not.Reason())
	require.Equal(t, map[string]string{"resource": o.Name(), "first": "users/wh1"}, not.Metadata())
	require.EqualError(t, not, "users/wh1 asked for this honey to be written off: only who asked takes it back, or the office; tell the office where it stands")

	for state, verdict := range map[string]lots.Verdict{"APPROVED": {Transfer: uuid.New()}, "DECLINED": {}, "WITHDRAWN": {Withdrawn: true}} {
		verdict.Decider, verdict.Time = "users/office1", decided
		o.Decided = &verdict
		require.Equal(t, state, o.State())
		var again *lots.DecidedError
		require.ErrorAs(t, o.MayDecide("users/office2", true), &again)
		require.Equal(t, map[string]string{"resource": o.Name(), "state": state}, again.Metadata())
		require.Equal(t, again, o.MayWithdraw("users/wh1", false, false))
		require.Equal(t, again, o.MayWithdraw("users/line1", false, false), "how it ended comes first")
		require.ErrorContains(t, again, "this request was "+strings.ToLower(state)+" by users/office1 at 2026-11-29 15:00 UTC already")
	}
}

func TestTheSameHoneyIsNotAskedForTwice(t *testing.T) {
	t.Parallel()
	mass := func(m quantity.Mass) lots.WriteOff { return lots.WriteOff{Place: "stock/1", Mass: m, Held: 40_000} }
	jars := func(n int64) lots.WriteOff { return lots.WriteOff{Place: "packLots/1", Mass: 1, Jars: n} }
	for name, c := range map[string]struct {
		o       lots.WriteOff
		waiting lots.Waiting
		loose   int64
		over    string
	}{
		"all of it":               {mass(40_000), lots.Waiting{}, 0, ""},
		"a thousandth more":       {mass(40_001), lots.Waiting{}, 0, "0.001"},
		"what is left of it":      {mass(10_000), lots.Waiting{Mass: 30_000}, 0, ""},
		"more than is left of it": {mass(10_100), lots.Waiting{Mass: 30_000}, 0, "0.1"},
		"all loose jars":          {jars(5), lots.Waiting{}, 5, ""},
		"the other jars":          {jars(2), lots.Waiting{Jars: 3, Mass: 3_000}, 5, ""},
		"jars asked for already":  {jars(3), lots.Waiting{Jars: 3, Mass: 3_000}, 5, "1"},
	} {
		err := c.o.Ask(c.waiting, c.loose, "the place", quantity.LB)
		if c.over == "" {
			require.NoError(t, err, name)
			continue
		}
		var over *lots.AskedError
		require.ErrorAs(t, err, &over, name)
		require.Equal(t, c.over, over.Metadata()["difference"], name)
		require.Equal(t, "TOTAL_DISAGREES", over.Reason())
		require.Equal(t, c.waiting != lots.Waiting{}, over.Metadata()["asked"] != "", name)
	}
	require.EqualError(t, mass(40_001).Ask(lots.Waiting{}, 0, "drum FC-00003", quantity.LB), "drum FC-00003 holds 40.0 lb by the books: 0.001 lb too much is asked for")
	require.EqualError(t, mass(1_240_000).Ask(lots.Waiting{Mass: 30_000}, 0, "", quantity.KG),
		"stock/1 holds 40.0 kg by the books, of which 30.0 kg are asked to be written off already and not decided: 1,230.0 kg too much is asked for")
	require.EqualError(t, jars(1_204).Ask(lots.Waiting{Jars: 3}, 1_205, "lot FC26329T103Q", quantity.LB),
		"lot FC26329T103Q holds 1,205 loose jars by the books, of which 3 jars are asked to be written off already and not decided: 2 jars too much is asked for")
}

func TestWhatWasFoundSinceIsNotWrittenOff(t *testing.T) {
	t.Parallel()
	o := lots.WriteOff{Place: "charges/7", Mass: 20_000}
	missing := func(holds quantity.Mass, loose int64) error {
		return o.StillMissing(holds, loose, "charge T-1-26-003", quantity.LB)
	}
	require.NoError(t, missing(20_000, 0))
	var found *lots.FoundError
	require.ErrorAs(t, missing(12_000, 0), &found)
	require.EqualError(t, found, "charge T-1-26-003 holds 12.0 lb by the books now, and 20.0 lb were asked to be written off: decline it, and let what is still missing be asked for anew")
	require.Equal(t, map[string]string{"resource": "charges/7", "difference": "8.0"}, found.Metadata())
	o.Jars = 3
	require.NoError(t, missing(0, 3), "jars are counted")
	require.ErrorAs(t, missing(20_000, 2), &found)
	require.ErrorContains(t, found, "charge T-1-26-003 holds 2 loose jars by the books now, and 3 jars were asked")
	require.Equal(t, map[string]string{"resource": "charges/7", "difference": "1"}, found.Metadata())
}

func TestOnlyWhatNobodyFoundTakesTwo(t *testing.T) {
	t.Parallel()
	for _, way := range []string{lots.Drain, lots.Filter, lots.Flush, lots.Overfill, lots.Sampled, lots.Foam, lots.Broken, lots.Destroyed, "SPILL"} {
		require.NoError(t, lots.BookedAlone(way), way)
	}
	var alone *lots.AloneError
	require.ErrorAs(t, lots.BookedAlone(lots.Unexplained), &alone)
	require.Equal(t, map[string]string{"field": "code"}, alone.Metadata())
}

func TestALotThatDoesNotAddUpSaysWhatWaitsForTheOffice(t *testing.T) {
	t.Parallel()
	f := lots.Filling{ID: uuid.New(), Code: "T-1-26-003", Content: 1_212_000, Asked: 200_000}
	var e *lots.UnexplainedError
	require.ErrorAs(t, f.Reconcile(quantity.LB), &e)
	require.EqualError(t, e, "charge T-1-26-003 cannot be reconciled: 1,212.0 lb is unexplained; 200.0 lb is asked to be written off, and the office has not decided yet")
	require.Equal(t, map[string]string{"resource": string(f.Place()), "difference": "1212.0", "asked": "200.0"}, e.Metadata())
	_, err := lots.Run{ID: uuid.New(), Code: "FC26329T103Q", Content: 1_010_000, Asked: 10_000}.Finish(1000, 1000, quantity.KG)
	require.ErrorContains(t, err, "lot FC26329T103Q cannot be reconciled: 10.0 kg is unexplained; 10.0 kg is asked to be written off")
	f.Asked = 0
	require.ErrorContains(t, f.Reconcile(quantity.LB), "charge T-1-26-003 cannot be reconciled: 1,212.0 lb is unexplained; book it as a loss, a heel or rework, or ask for it to be written off")
	f.Content = -1_000
	require.ErrorContains(t, f.Reconcile(quantity.LB), "cannot be reconciled: 1.0 lb more came out than went in")
}

// Whatever is asked, approved, declined and used meanwhile: what came in is what is there, what was used and what was written off, and
// nothing is written off that is not there.
func TestPoundsAddUpWhateverIsAskedAndDecided(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		has := quantity.Mass(rapid.Int64Range(1, 1_000).Draw(t, "in"))
		in, used, lost, booked := has, quantity.Mass(0), quantity.Mass(0), quantity.Mass(0)
		var all []lots.WriteOff
		for range rapid.IntRange(1, 30).Draw(t, "deeds") {
			switch rapid.IntRange(0, 3).Draw(t, "deed") {
			case 0:
				if m := quantity.Mass(rapid.Int64Range(0, int64(has)).Draw(t, "use")); m > 0 {
					has, used = has-m, used+m
				}
			case 1:
				var w lots.Waiting
				for _, o := range all {
					if o.Decided == nil {
						w.Mass += o.Mass
					}
				}
				o := lots.WriteOff{ID: uuid.New(), Place: "charges/1", Asker: "users/wh1", Held: has, Mass: quantity.Mass(rapid.Int64Range(1, 1_000).Draw(t, "ask"))}
				err := o.Ask(w, 0, "", quantity.LB)
				if (err == nil) != (o.Mass+w.Mass <= has) {
					t.Fatalf("%s asked, %s waiting, %s there: %v", o.Mass, w.Mass, has, err)
				}
				if err == nil {
					all = append(all, o)
				}
			default:
				if len(all) == 0 {
					continue
				}
				n := rapid.IntRange(0, len(all)-1).Draw(t, "which")
				if err := all[n].MayDecide("users/office1", false); (err != nil) != (all[n].Decided != nil) {
					t.Fatalf("decided once: %v", err)
				}
				if all[n].Decided != nil {
					continue
				}
				v := lots.Verdict{Decider: "users/office1"}
				if rapid.Bool().Draw(t, "approve") {
					if all[n].StillMissing(has, 0, "", quantity.LB) != nil {
						continue
					}
					v.Transfer, v.Mass = uuid.New(), all[n].Mass
					has, lost = has-v.Mass, lost+v.Mass
				}
				all[n].Decided = &v
			}
			if has < 0 {
				t.Fatalf("%s there", has)
			}
		}
		for _, o := range all {
			if o.State() == "APPROVED" {
				booked += o.Decided.Mass
			}
		}
		if in != has+used+lost || booked != lost {
			t.Fatalf("%s in, %s there, %s used, %s lost, %s approved", in, has, used, lost, booked)
		}
	})
}
