package pool_test

import (
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

func TestGatherTakesWhatBelongs(t *testing.T) {
	t.Parallel()
	a := account("table", false)
	harvest := []pool.Harvested{
		{Barrel: id("1"), Member: "members/M-0001", Variety: "clover", ColorClass: "WHITE", Grade: "A", Payable: mass(t, "640.0"), Credited: money(t, "736.00")},
		{Barrel: id("2"), Member: "members/M-0001", Variety: "basswood", ColorClass: "WHITE", Grade: "A", Payable: mass(t, "640.0")},
	}
	entries := []*pool.Record{{ID: id("sale"), Kind: pool.Proceeds, Amount: 100}, {ID: id("cost"), Kind: pool.Expense, Amount: 30}}
	scope := a.Scope([]*pool.Account{a, account("basswood", false, "basswood")})
	in, err := pool.Gather(a, scope, entries, harvest, map[string]int{"clover": 2, "basswood": 5})
	require.NoError(t, err)
	require.Len(t, in.Barrels, 1)
	require.Equal(t, 2, in.LeftOut)
	require.Equal(t, []pool.Entry{{Entry: id("sale"), Amount: 100}, {Entry: id("cost"), Amount: -30}}, in.Entries)
	harvest[0].Grade = "C"
	_, err = pool.Gather(a, scope, entries, harvest, nil)
	var state *domain.StateError
	require.ErrorAs(t, err, &state)
	require.Contains(t, state.Message, "no differential for clover, WHITE, grade C")
}
