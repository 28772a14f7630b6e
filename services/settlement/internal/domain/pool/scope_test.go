package pool_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

func account(name string, closed bool, varieties ...string) *pool.Account {
	a := &pool.Account{ID: id(name), CropYear: 2026, Title: name, Varieties: varieties, Classes: []pool.Class{{ColorClass: "WHITE", Grade: "A", Differential: 50_000}}}
	if closed {
		a.ClosingRun = id("run of " + name)
	}
	return a
}

func TestEachBarrelIsInOneOpenPool(t *testing.T) {
	t.Parallel()
	table, basswood, old := account("table", false), account("basswood", false, "basswood"), account("old", true, "clover")
	all := []*pool.Account{table, basswood, old}
	for variety, want := range map[string]*pool.Account{"basswood": basswood, "clover": table, "knapweed": table} {
		for _, a := range all[:2] {
			require.Equal(t, a == want, a.Scope(all).Takes(2026, variety), "%s in %s", variety, a.Title)
		}
	}
	require.False(t, table.Scope(all).Takes(2025, "clover"))
	require.NoError(t, account("late clover", false, "clover").Beside(all))
	var overlap *pool.OverlapError
	require.ErrorAs(t, account("again", false, "basswood", "clover").Beside(all), &overlap)
	require.Equal(t, basswood.Name(), overlap.Metadata()["resource"])
	require.ErrorAs(t, account("again", false).Beside(all), &overlap)
}

func TestHeadCountsWhatBelongs(t *testing.T) {
	t.Parallel()
	a := account("table", false)
	entries := []*pool.Record{{ID: id("sale"), Kind: pool.Proceeds, Amount: 100}, {ID: id("cost"), Kind: pool.Expense, Amount: 30}}
	scope := a.Scope([]*pool.Account{a, account("basswood", false, "basswood")})
	head := pool.NewHead(a, entries)
	require.Equal(t, 2, pool.LeftOut(a, scope, map[string]int{"clover": 2, "basswood": 5}))
	require.ElementsMatch(t, []pool.Entry{{Entry: id("sale"), Amount: 100}, {Entry: id("cost"), Amount: -30}}, head.Entries)
	sorter := pool.NewSorter(head)
	class, err := sorter.Class(pool.Kind{Variety: "clover", ColorClass: "WHITE", Grade: "A"})
	require.NoError(t, err)
	require.Zero(t, class)
	_, err = sorter.Class(pool.Kind{Variety: "clover", ColorClass: "WHITE", Grade: "C"})
	var state *domain.StateError
	require.ErrorAs(t, err, &state)
	require.Contains(t, state.Message, "no differential for clover, WHITE, grade C")
}

func TestPartsAreGatheredToBarrels(t *testing.T) {
	t.Parallel()
	part := func(barrel, member string, share int64, payable string) pool.Kept {
		return pool.Kept{Harvested: pool.Harvested{
			Barrel: id(barrel), Advance: id(barrel + member), Member: member, Share: share, Payable: mass(t, payable), Step: -1, Credited: 100,
		}}
	}
	var seen []pool.Barrel
	g := pool.Gathering{Each: func(b *pool.Barrel, parts []pool.Kept) error {
		require.Len(t, parts, len(b.Owners))
		b2 := *b
		b2.Owners = slices.Clone(b.Owners)
		seen = append(seen, b2)
		return nil
	}}
	require.NoError(t, g.End(), "nothing came")
	for _, k := range []pool.Kept{
		part("1", "members/M-0007", domain.WholeShare, "640.0"),
		part("2", "members/M-0009", 600_000, "384.0"), part("2", "members/M-0008", 400_000, "256.0"),
	} {
		require.NoError(t, g.Add(k))
	}
	require.NoError(t, g.End())
	require.Equal(t, []pool.Barrel{
		{Barrel: id("1"), Advance: id("1members/M-0007"), Payable: mass(t, "640.0"), Step: -1, Owners: whole("members/M-0007", 100)},
		{Barrel: id("2"), Advance: id("2members/M-0008"), Payable: mass(t, "640.0"), Step: -2, Owners: []pool.Owner{
			{Member: "members/M-0008", Weight: 400_000, Credited: 100, Advance: id("2members/M-0008")},
			{Member: "members/M-0009", Weight: 600_000, Credited: 100, Advance: id("2members/M-0009")},
		}},
	}, seen)
}
