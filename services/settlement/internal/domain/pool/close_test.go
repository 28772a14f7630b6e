package pool_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

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
	require.Contains(t, state.Message, "AMBER, grade A would be priced at -0.2")
}

func TestCheckFindsACentAstray(t *testing.T) {
	t.Parallel()
	r, err := pool.Close(worked(t))
	require.NoError(t, err)
	for _, break1 := range []func(*pool.Result){
		func(r *pool.Result) { r.Lines[0].Value++ },
		func(r *pool.Result) { r.Members[0].Value++ },
		func(r *pool.Result) { r.Residual++ },
		func(r *pool.Result) { r.Members[1].Due-- },
	} {
		raw, err := r.Bytes()
		require.NoError(t, err)
		broken, err := pool.ReadResult(raw)
		require.NoError(t, err)
		break1(broken)
		var total *domain.TotalError
		require.ErrorAs(t, broken.Check(), &total)
	}
}

func TestReplay(t *testing.T) {
	t.Parallel()
	inputs, err := worked(t).Bytes()
	require.NoError(t, err)
	r, err := pool.Close(worked(t))
	require.NoError(t, err)
	outcome, err := r.Bytes()
	require.NoError(t, err)
	fingerprint := pool.Fingerprint(inputs)
	finding, err := pool.Replay(inputs, outcome, fingerprint)
	require.NoError(t, err)
	require.Empty(t, finding)
	finding, err = pool.Replay(append(slices.Clone(inputs), ' '), outcome, fingerprint)
	require.NoError(t, err)
	require.Contains(t, finding, "they were changed")
	finding, err = pool.Replay(inputs, outcome[1:], fingerprint)
	require.NoError(t, err)
	require.Contains(t, finding, "another outcome")
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

func randomPool(t *rapid.T) pool.Input {
	in := pool.Input{Pool: id("pool"), Entries: []pool.Entry{
		{Entry: id("sales"), Amount: quantity.Money(rapid.Int64Range(0, 1e10).Draw(t, "sales"))},
		{Entry: id("expenses"), Amount: -quantity.Money(rapid.Int64Range(0, 1e9).Draw(t, "expenses"))},
	}}
	for i := range rapid.IntRange(1, 5).Draw(t, "classes") {
		in.Classes = append(in.Classes, pool.Class{
			ColorClass: fmt.Sprintf("CLASS_%c", 'A'+i), Grade: "A", Differential: quantity.Price(rapid.Int64Range(-50_000, 50_000).Draw(t, "differential")) * 10,
		})
	}
	for i := range rapid.IntRange(1, 60).Draw(t, "barrels") {
		b := pool.Barrel{
			Barrel: id(fmt.Sprint("barrel ", i)), Class: rapid.IntRange(0, len(in.Classes)-1).Draw(t, "class"),
			Payable: quantity.Mass(rapid.Int64Range(0, 35_000).Draw(t, "payable")) * 100, Step: -quantity.Money(rapid.Int64Range(0, 5000).Draw(t, "step")),
		}
		for o := range rapid.IntRange(1, 3).Draw(t, "owners") {
			b.Owners = append(b.Owners, pool.Owner{
				Member:   fmt.Sprintf("members/M-%04d", 10*o+rapid.IntRange(1, 9).Draw(t, "member")),
				Weight:   rapid.Int64Range(1, 100).Draw(t, "weight"),
				Credited: quantity.Money(rapid.Int64Range(0, 200_000).Draw(t, "credited")),
			})
		}
		in.Barrels = append(in.Barrels, b)
	}
	return in
}

func TestRandomPoolsAddUpInAnyOrder(t *testing.T) {
	t.Parallel()
	solved := 0
	rapid.Check(t, func(t *rapid.T) {
		in := randomPool(t)
		r, err := pool.Close(in)
		shuffled := in
		shuffled.Barrels = rapid.Permutation(in.Barrels).Draw(t, "barrels in another order")
		shuffled.Entries = rapid.Permutation(in.Entries).Draw(t, "entries in another order")
		again, errAgain := pool.Close(shuffled)
		if err != nil {
			var state *domain.StateError
			require.ErrorAs(t, err, &state)
			require.Equal(t, err, errAgain)
			return
		}
		solved++
		require.Equal(t, r, again)
		require.NoError(t, r.Check())
		require.GreaterOrEqual(t, r.Residual, quantity.Money(0))
		mostly(t, in, r)
		voided(t, in)
	})
	require.Positive(t, solved)
}

// mostly bounds the residual: a higher declared price would have promised more than there is, so less than one step of price
// on all weight and half a cent for each line is left.
func mostly(t *rapid.T, in pool.Input, r *pool.Result) {
	step, err := quantity.Price(10).Times(r.Payable)
	require.NoError(t, err)
	require.LessOrEqual(t, r.Residual, step+quantity.Money(len(in.Barrels))+2)
	for _, m := range r.Members {
		require.GreaterOrEqual(t, m.Due, quantity.Money(0))
		require.True(t, m.Due == 0 || m.Receivable == 0)
	}
}

// voided takes a barrel out and puts the same one back under another owner: nobody else's cents move.
func voided(t *rapid.T, in pool.Input) {
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
