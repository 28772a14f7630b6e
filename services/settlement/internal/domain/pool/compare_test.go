package pool_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

var terms = domain.Terms{Unit: quantity.LB, Currency: "USD"}

func compare(t *testing.T, change func(*pool.Input)) pool.Comparison {
	t.Helper()
	before, after := worked(t), worked(t)
	change(&after)
	was, err := pool.Close(before)
	require.NoError(t, err)
	is, err := pool.Close(after)
	require.NoError(t, err)
	return pool.Compare(terms, before, after, was, is)
}

func TestEveryChangeHasItsCause(t *testing.T) {
	t.Parallel()
	require.Empty(t, compare(t, func(*pool.Input) {}))
	causes := func(change func(*pool.Input)) map[string]string {
		out := map[string]string{}
		for _, c := range compare(t, change).Changes {
			out[c.Subject] = c.Cause
		}
		return out
	}
	one := "barrels/" + id("1").String()
	const moved = "$1.89333 per lb before, $1.89888 per lb now: all honey of the pool is worth that much more or less"
	require.Equal(t, map[string]string{"poolEntries/" + id("more").String(): "entered", "base price": moved},
		causes(func(in *pool.Input) {
			in.Entries = append(in.Entries, pool.Entry{Entry: id("more"), Amount: 10_000_00})
		}))
	require.Equal(t, map[string]string{one: "it belongs to M-0002 and not to M-0001: its ticket was replaced"},
		causes(func(in *pool.Input) { in.Barrels[0].Owners = whole("members/M-0002", 738_88) }))
	require.Equal(t, map[string]string{one: "it is any source, extra light amber, grade A ($0.00 per lb) and was any source, white, grade A (+$0.05 per lb): its certificate was replaced, or the differential was", "base price": "$1.89333 per lb before, $1.89335 per lb now: all honey of the pool is worth that much more or less"},
		causes(func(in *pool.Input) { in.Barrels[0].Class = 1 }))
	require.Equal(t, map[string]string{one: "642.6 lb is paid for and not 642.5 lb: its certificate or ticket was replaced"},
		causes(func(in *pool.Input) { in.Barrels[0].Payable += 100 }))
	require.Equal(t, map[string]string{one: "its advance was priced anew"}, causes(func(in *pool.Input) { in.Barrels[0].Advance[0]++ }))
	require.Equal(t, map[string]string{one: "its owners' shares, or what comes off for water, changed"}, causes(func(in *pool.Input) { in.Barrels[0].Step = -1 }))
	require.Equal(t, "its advance was taken back", causes(func(in *pool.Input) { in.Barrels = in.Barrels[1:] })[one])
	require.Equal(t, "1 before, 0 now", causesBack(t)["barrels left out"])
}

// causesBack compares the other way round: what was there is gone.
func causesBack(t *testing.T) map[string]string {
	t.Helper()
	before, after := worked(t), worked(t)
	before.LeftOut = 1
	before.Entries = append(before.Entries, pool.Entry{Entry: id("more"), Amount: 1})
	was, err := pool.Close(before)
	require.NoError(t, err)
	is, err := pool.Close(after)
	require.NoError(t, err)
	out := map[string]string{}
	for _, c := range pool.Compare(terms, before, after, was, is).Changes {
		out[c.Subject] = c.Cause
	}
	require.Equal(t, "no longer there", out["poolEntries/"+id("more").String()])
	return out
}

func TestComparisonOfMembersAddsUp(t *testing.T) {
	t.Parallel()
	c := compare(t, func(in *pool.Input) { in.Barrels[0].Owners = whole("members/M-0002", 738_88) })
	require.Len(t, c.Members, 2)
	var sum quantity.Money
	for _, m := range c.Members {
		sum += m.After - m.Before
	}
	require.Zero(t, sum)
	require.Equal(t, "-1248.59", (c.Members[0].After - c.Members[0].Before).String())
}

// Places only spare time: right, missing or given to two members, they change no result.
func TestPlacesChangeNothing(t *testing.T) {
	t.Parallel()
	plain, err := pool.Close(worked(t))
	require.NoError(t, err)
	for name, place := range map[string]func(barrel int, member string) int{
		"by member": func(_ int, member string) int { return int(member[len(member)-1]) },
		"some":      func(barrel int, member string) int { return barrel % 2 * int(member[len(member)-1]) },
		"one":       func(int, string) int { return 1 },
	} {
		placed := worked(t)
		for i, b := range placed.Barrels {
			for j := range b.Owners {
				b.Owners[j].Place = place(i, b.Owners[j].Member)
			}
		}
		is, err := pool.Close(placed)
		require.NoError(t, err)
		require.Equal(t, plain, is, name)
		require.Equal(t, pool.Comparison{}, pool.Compare(terms, worked(t), placed, plain, is), name)
	}
}
