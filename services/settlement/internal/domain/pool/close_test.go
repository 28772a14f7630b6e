package pool_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

func mass(t testing.TB, s string) quantity.Mass {
	m, err := quantity.ParseMass(s)
	require.NoError(t, err)
	return m
}

func money(t testing.TB, s string) quantity.Money {
	m, err := quantity.ParseMoney(s)
	require.NoError(t, err)
	return m
}

func price(t testing.TB, s string) quantity.Price {
	p, err := quantity.ParsePrice(s)
	require.NoError(t, err)
	return p
}

func id(word string) uuid.UUID { return uuid.NewSHA1(uuid.Nil, []byte(word)) }

func classes(t testing.TB) []pool.Class {
	var out []pool.Class
	for _, c := range []struct{ color, differential string }{
		{"WHITE", "0.05"}, {"EXTRA_LIGHT_AMBER", "0.00"}, {"LIGHT_AMBER", "-0.12"}, {"AMBER", "-0.25"},
	} {
		out = append(out, pool.Class{ColorClass: c.color, Grade: "A", Differential: price(t, c.differential)})
	}
	return out
}

func whole(member string, credited quantity.Money) []pool.Owner {
	return []pool.Owner{{Member: member, Weight: 1, Credited: credited}}
}

// worked is a pool of 1,800,000 lb worked by hand: sales 3,950,000 less expenses 558,000, differentials on 900,000 lb white,
// 500,000 extra light amber, 300,000 light amber and 100,000 amber. One member's three barrels are part of it.
func worked(t testing.TB) pool.Input {
	in := pool.Input{Pool: id("pool"), Classes: classes(t), Entries: []pool.Entry{
		{Entry: id("sales"), Amount: money(t, "3950000.00")}, {Entry: id("expenses"), Amount: money(t, "-558000.00")},
	}}
	add := func(name, member string, class int, payable, credited string) {
		in.Barrels = append(in.Barrels, pool.Barrel{
			Barrel: id(name), Advance: id("advance " + name), Class: class, Payable: mass(t, payable), Owners: whole(member, money(t, credited)),
		})
	}
	add("1", "members/M-0001", 0, "642.5", "738.88")
	add("2", "members/M-0001", 1, "635.6", "699.16")
	add("3", "members/M-0001", 2, "640.2", "627.40")
	add("rest white", "members/M-0002", 0, "899357.5", "1034261.13")
	add("rest ela", "members/M-0003", 1, "499364.4", "549300.84")
	add("rest light amber", "members/M-0004", 2, "299359.8", "293372.60")
	add("amber", "members/M-0005", 3, "100000.0", "170000.00")
	return in
}

func TestWorkedPool(t *testing.T) {
	t.Parallel()
	r, err := pool.Close(worked(t))
	require.NoError(t, err)
	require.Equal(t, "1800000.0", r.Payable.String())
	require.Equal(t, "3392000.00", r.Distributable.String())
	require.Equal(t, "1.89333", r.Base.String())
	prices := map[string]string{}
	for _, c := range r.Classes {
		prices[c.ColorClass] = c.Price.String()
	}
	require.Equal(t, map[string]string{"WHITE": "1.94333", "EXTRA_LIGHT_AMBER": "1.89333", "LIGHT_AMBER": "1.77333", "AMBER": "1.64333"}, prices)
	// Declaring 1.89333 instead of 1.893333… leaves 6.00 on 1.8 million pounds, half cents of the lines apart.
	require.InDelta(t, 600, int64(r.Residual), 4)
	require.Equal(t, r.Distributable, r.ToMembers+r.Residual)

	m := r.Members[0]
	require.Equal(t, "members/M-0001", m.Member)
	require.Equal(t, "3587.28", m.Value.String())
	require.Equal(t, "2065.44", m.Credited.String())
	require.Equal(t, "1521.84", m.Due.String())
	require.Zero(t, m.Receivable)
	values := map[uuid.UUID]string{}
	for _, l := range r.Lines {
		values[l.Barrel] = l.Value.String()
	}
	require.Equal(t, []string{"1248.59", "1203.40", "1135.29"}, []string{values[id("1")], values[id("2")], values[id("3")]})
}

// The advance of the amber was more than the pool bears: the member owes, and is never paid a negative amount.
func TestOverAdvanceIsOwedAndNeverPaid(t *testing.T) {
	t.Parallel()
	r, err := pool.Close(worked(t))
	require.NoError(t, err)
	amber := r.Members[4]
	require.Equal(t, "164333.00", amber.Value.String())
	require.Equal(t, "5667.00", amber.Receivable.String())
	require.Zero(t, amber.Due)
	require.Equal(t, "5667.00", r.Receivable.String())
}

func TestSharedBarrelSaysWhoGotTheCent(t *testing.T) {
	t.Parallel()
	in := pool.Input{Pool: id("pool"), Classes: classes(t)[1:2], Entries: []pool.Entry{{Entry: id("sales"), Amount: money(t, "1000.01")}}}
	in.Barrels = []pool.Barrel{{Barrel: id("1"), Payable: mass(t, "500.0"), Owners: []pool.Owner{{Member: "members/M-0002", Weight: 1}, {Member: "members/M-0001", Weight: 1}, {Member: "members/M-0003", Weight: 1}}}}
	r, err := pool.Close(in)
	require.NoError(t, err)
	require.Equal(t, "2.00002", r.Base.String())
	require.Equal(t, "333.34", r.Lines[0].Value.String())
	require.Equal(t, "members/M-0001", r.Lines[0].Member)
	require.True(t, r.Lines[0].Odd)
	require.True(t, r.Lines[1].Odd)
	require.False(t, r.Lines[2].Odd)
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	_, err := pool.Close(pool.Input{Pool: id("pool")})
	var state *domain.StateError
	require.ErrorAs(t, err, &state)
	require.Equal(t, "NO_HONEY", state.State)
	in := worked(t)
	in.Entries[1].Amount = money(t, "-3900000.00")
	_, err = pool.Close(in)
	require.ErrorAs(t, err, &state)
	require.Equal(t, "PRICE_BELOW_ZERO", state.State)
	require.Contains(t, state.Message, "amber, grade A would be priced at -0.2")
}

func TestCheckFindsACentAstray(t *testing.T) {
	t.Parallel()
	for _, break1 := range []func(*pool.Result){
		func(r *pool.Result) { r.Lines[0].Value++ },
		func(r *pool.Result) { r.Members[0].Value++ },
		func(r *pool.Result) { r.Residual++ },
		func(r *pool.Result) { r.Members[1].Due-- },
	} {
		r, err := pool.Close(worked(t))
		require.NoError(t, err)
		break1(r)
		var total *domain.TotalError
		require.ErrorAs(t, r.Check(), &total)
	}
}

// kept is a pool as a run keeps it, and the run.
func kept(t testing.TB, in pool.Input) (*pool.Run, []pool.Heap, []pool.Kept, []pool.MemberResult) {
	in = in.Canonical()
	r, err := pool.Close(in)
	require.NoError(t, err)
	raw, err := in.Bytes()
	require.NoError(t, err)
	run := &pool.Run{Fingerprint: pool.Fingerprint(raw)}
	run.Inputs, err = in.Head().Bytes()
	require.NoError(t, err)
	run.Outcome, err = r.Bytes()
	require.NoError(t, err)
	lines := r.Lines
	var parts []pool.Kept
	for _, b := range in.Barrels {
		for i, o := range b.Owners {
			k := pool.Kept{Class: b.Class, Value: lines[i].Value, Odd: lines[i].Odd, Harvested: pool.Harvested{
				Barrel: b.Barrel, Advance: b.Advance, Member: o.Member, Share: o.Weight, Credited: o.Credited,
			}}
			if len(b.Owners) == 1 {
				k.Share = domain.WholeShare
			} else {
				k.Advance = o.Advance
			}
			if i == 0 {
				k.Payable, k.Step = b.Payable, b.Step
			}
			parts = append(parts, k)
		}
		lines = lines[len(b.Owners):]
	}
	return run, pool.Heaps(in.Barrels), parts, r.Members
}

func replayed(t testing.TB, run *pool.Run, heaps []pool.Heap, parts []pool.Kept, members []pool.MemberResult) string {
	replay, err := pool.NewReplay(run, heaps)
	require.NoError(t, err)
	barrels := pool.Gathering{Each: replay.Add}
	for _, k := range parts {
		require.NoError(t, barrels.Add(k))
	}
	require.NoError(t, barrels.End())
	finding, _, err := replay.Finish(members)
	require.NoError(t, err)
	return finding
}

func TestReplay(t *testing.T) {
	t.Parallel()
	run, heaps, parts, members := kept(t, worked(t))
	require.Empty(t, replayed(t, run, heaps, parts, members))
	for word, break1 := range map[string]func(){
		"they were changed": func() { parts[0].Payable++ },
		"gets":              func() { parts[1].Value++ },
		"another outcome":   func() { members[0].Value++ },
		"same inputs":       func() { run.Outcome = []byte(strings.Replace(string(run.Outcome), "1.89333", "1.89332", 1)) },
	} {
		run, heaps, parts, members = kept(t, worked(t))
		break1()
		require.Contains(t, replayed(t, run, heaps, parts, members), word)
	}
}

func TestBarrelsOutOfOrderAreRefused(t *testing.T) {
	t.Parallel()
	in := worked(t).Canonical()
	r, err := pool.Reckon(in.Head(), pool.Heaps(in.Barrels))
	require.NoError(t, err)
	_, err = r.Value(&in.Barrels[1])
	require.NoError(t, err)
	for _, again := range []int{0, 1} {
		_, err = r.Value(&in.Barrels[again])
		var order *pool.OrderError
		require.ErrorAs(t, err, &order)
	}
	_, _, err = r.Finish()
	var total *domain.TotalError
	require.ErrorAs(t, err, &total, "barrels are missing")
}

// Any input that changes changes the fingerprint.
func TestFingerprintCoversEveryInput(t *testing.T) {
	t.Parallel()
	of := func(in pool.Input) string {
		raw, err := in.Bytes()
		require.NoError(t, err)
		return pool.Fingerprint(raw)
	}
	seen := map[string]bool{of(worked(t)): true}
	for i, change := range []func(*pool.Input){
		func(in *pool.Input) { in.Pool[0]++ },
		func(in *pool.Input) { in.LeftOut++ },
		func(in *pool.Input) { in.Classes[0].Differential++ },
		func(in *pool.Input) { in.Classes[0].ColorClass = "WATER_WHITE" },
		func(in *pool.Input) { in.Entries[0].Amount++ },
		func(in *pool.Input) { in.Entries[0].Entry[0]++ },
		func(in *pool.Input) { in.Barrels[0].Barrel[0]++ },
		func(in *pool.Input) { in.Barrels[0].Advance[0]++ },
		func(in *pool.Input) { in.Barrels[0].Class = 2 },
		func(in *pool.Input) { in.Barrels[0].Payable++ },
		func(in *pool.Input) { in.Barrels[0].Step-- },
		func(in *pool.Input) { in.Barrels[0].Owners[0].Member = "members/M-0009" },
		func(in *pool.Input) { in.Barrels[0].Owners[0].Weight++ },
		func(in *pool.Input) { in.Barrels[0].Owners[0].Credited++ },
		func(in *pool.Input) { in.Barrels = in.Barrels[1:] },
	} {
		in := worked(t)
		change(&in)
		require.False(t, seen[of(in)], "change %d", i)
		seen[of(in)] = true
	}
}

// randomPool has everything a closing knows of: classes, shared barrels, water taken off the price, advances from nothing to
// far too much, members with one barrel and with many. Seeds make it the same on every machine.
func randomPool(seed uint64) pool.Input {
	r := rand.New(rand.NewPCG(seed, 600))
	in := pool.Input{Pool: id("pool"), LeftOut: r.IntN(3), Entries: []pool.Entry{
		{Entry: id("sales"), Amount: quantity.Money(r.Int64N(1e7))}, {Entry: id("expenses"), Amount: -quantity.Money(r.Int64N(1e6))},
	}}
	for i := range 1 + r.IntN(5) {
		in.Classes = append(in.Classes, pool.Class{
			ColorClass: fmt.Sprintf("CLASS_%c", 'A'+i), Grade: "A", Differential: quantity.Price(r.Int64N(100_001)-50_000) * 10,
		})
	}
	for i := range 1 + r.IntN(24) {
		name := fmt.Sprint("barrel ", seed, i)
		b := pool.Barrel{
			Barrel: id(name), Advance: id(name + " 0"), Class: r.IntN(len(in.Classes)),
			Payable: quantity.Mass(r.Int64N(35_001)) * 100, Step: -quantity.Money(r.Int64N(2) * r.Int64N(5001)),
		}
		owners := max(1, r.IntN(6)-2) // one owner most often, up to three
		for o := range owners {
			owner := pool.Owner{Member: fmt.Sprintf("members/M-%04d", 10*o+1+r.IntN(9)), Weight: 1, Credited: quantity.Money(r.Int64N(200_001))}
			if owners > 1 {
				owner.Weight, owner.Advance = 1+r.Int64N(100), id(fmt.Sprint(name, " ", o))
			}
			b.Owners = append(b.Owners, owner)
		}
		in.Barrels = append(in.Barrels, b)
	}
	return in
}

func shuffled(seed uint64, in pool.Input) pool.Input {
	r := rand.New(rand.NewPCG(seed, 601))
	in.Barrels, in.Entries = slices.Clone(in.Barrels), slices.Clone(in.Entries)
	r.Shuffle(len(in.Barrels), func(i, j int) { in.Barrels[i], in.Barrels[j] = in.Barrels[j], in.Barrels[i] })
	r.Shuffle(len(in.Entries), func(i, j int) { in.Entries[i], in.Entries[j] = in.Entries[j], in.Entries[i] })
	for i := range in.Barrels {
		in.Barrels[i].Owners = slices.Clone(in.Barrels[i].Owners)
		slices.Reverse(in.Barrels[i].Owners)
	}
	return in
}

const manyPools = 10_000

// Ten thousand pools: lines = member, members = pool, pool = proceeds − expenses − residual, to the cent; the order of the
// input never matters; again is the same; kept barrel by barrel, the fingerprint and every line are the same.
func TestRandomPoolsAddUpInAnyOrder(t *testing.T) {
	t.Parallel()
	solved, split, over := 0, 0, 0
	for seed := range uint64(manyPools) {
		in := randomPool(seed)
		r, err := pool.Close(in)
		again, errAgain := pool.Close(shuffled(seed, in))
		if err != nil {
			var state *domain.StateError
			require.ErrorAs(t, err, &state, "seed %d", seed)
			require.Equal(t, err, errAgain, "seed %d", seed)
			continue
		}
		solved++
		require.Equal(t, r, again, "seed %d", seed)
		addsUp(t, in, r)
		mostly(t, in, r)
		voided(t, in)
		raw, err := in.Bytes()
		require.NoError(t, err)
		inOtherOrder, err := shuffled(seed, in).Bytes()
		require.NoError(t, err)
		require.Equal(t, raw, inOtherOrder, "seed %d", seed)
		run, heaps, parts, members := kept(t, in)
		require.Equal(t, pool.Fingerprint(raw), run.Fingerprint)
		require.Empty(t, replayed(t, run, heaps, parts, members), "seed %d", seed)
		for _, b := range in.Barrels {
			split += min(1, len(b.Owners)-1)
		}
		for _, m := range r.Members {
			over += min(1, int(m.Receivable))
		}
	}
	t.Logf("%d pools solved, %d shared barrels, %d members advanced too much", solved, split, over)
	require.Greater(t, solved, manyPools/2)
	require.Greater(t, split, manyPools)
	require.Greater(t, over, manyPools)
}

// addsUp adds everything up by itself, without Check.
func addsUp(t *testing.T, in pool.Input, r *pool.Result) {
	values, credits := map[string]quantity.Money{}, map[string]quantity.Money{}
	for _, l := range r.Lines {
		values[l.Member] += l.Value
		credits[l.Member] += l.Credited
	}
	var members, entries quantity.Money
	for _, m := range r.Members {
		require.Equal(t, values[m.Member], m.Value)
		require.Equal(t, credits[m.Member], m.Credited)
		require.Equal(t, m.Value-m.Credited, m.Due-m.Receivable)
		members += m.Value
	}
	for _, e := range in.Entries {
		entries += e.Amount
	}
	require.Len(t, values, len(r.Members))
	require.Equal(t, r.ToMembers, members)
	require.Equal(t, entries, members+r.Residual)
	require.GreaterOrEqual(t, r.Residual, quantity.Money(0))
}

// mostly bounds the residual: a higher declared price would have promised more than there is, so less than one step of price
// on all weight and half a cent for each line is left.
func mostly(t *testing.T, in pool.Input, r *pool.Result) {
	step, err := quantity.Price(10).Times(r.Payable)
	require.NoError(t, err)
	require.LessOrEqual(t, r.Residual, step+quantity.Money(len(in.Barrels))+2)
	for _, m := range r.Members {
		require.GreaterOrEqual(t, m.Due, quantity.Money(0))
		require.True(t, m.Due == 0 || m.Receivable == 0)
	}
}

// voided takes a barrel out and puts the same one back under another owner: nobody else's cents move.
func voided(t *testing.T, in pool.Input) {
	before, err := pool.Close(in)
	require.NoError(t, err)
	moved := in
	moved.Barrels = slices.Clone(in.Barrels)
	moved.Barrels[0].Owners = whole("members/M-9999", 0)
	after, err := pool.Close(moved)
	require.NoError(t, err)
	require.Equal(t, before.Base, after.Base)
	worth := func(r *pool.Result, b uuid.UUID) (sum quantity.Money) {
		for _, l := range r.Lines {
			if l.Barrel == b {
				sum += l.Value
			}
		}
		return sum
	}
	for _, b := range in.Barrels {
		require.Equal(t, worth(before, b.Barrel), worth(after, b.Barrel))
	}
}

func BenchmarkCloseMillionBarrels(b *testing.B) {
	in := pool.Input{Pool: id("pool"), Classes: classes(b), Entries: []pool.Entry{{Entry: id("sales"), Amount: money(b, "1200000000.00")}}}
	for i := range 1_000_000 {
		u := uuid.UUID{byte(i * 7), byte(i * 13), 4: byte(i >> 16), byte(i >> 8), byte(i)}
		in.Barrels = append(in.Barrels, pool.Barrel{Barrel: u, Class: i % 4, Payable: quantity.Mass(600_000 + i%60_000), Owners: whole(fmt.Sprintf("members/M-%04d", i%2000), 70_000)})
	}
	b.ResetTimer()
	for b.Loop() {
		_, err := pool.Close(in)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1e6, "ns/barrel")
}
