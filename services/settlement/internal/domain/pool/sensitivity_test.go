package pool_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/pool"
)

func varied(t *testing.T, in pool.Input, unsold quantity.Money) []*pool.Variant {
	in = in.Canonical()
	s, err := pool.NewSensitivity(in.Head(), pool.Heaps(in.Barrels), unsold)
	require.NoError(t, err)
	for i := range in.Barrels {
		require.NoError(t, s.Add(&in.Barrels[i], nil))
	}
	variants, err := s.Finish()
	require.NoError(t, err)
	return variants
}

// A cent a pound of expenses on 1,800,000 lb is 18,000.00, and five percent of 200,000.00 of unsold honey 10,000.00. Each
// variant is what the closing comes to when just that much is entered.
func TestSensitivityIsTheClosingWithOneFigureChanged(t *testing.T) {
	t.Parallel()
	variants := varied(t, worked(t), money(t, "200000.00"))
	require.Len(t, variants, 4)
	want := map[pool.Shifted][2]string{
		pool.MoreExpenses: {"-18000.00", "1.88333"}, pool.LessExpenses: {"18000.00", "1.90333"},
		pool.MoreUnsold: {"10000.00", "1.89888"}, pool.LessUnsold: {"-10000.00", "1.88777"},
	}
	for _, v := range variants {
		require.Equal(t, want[v.Change], [2]string{v.Shift.String(), v.Summary.Base.String()})
		in := worked(t)
		in.Entries[1].Amount += v.Shift
		r, err := pool.Close(in)
		require.NoError(t, err)
		require.Equal(t, r.Summary, *v.Summary)
	}
	require.Len(t, varied(t, worked(t), 0), 2, "nothing is unsold")
}

func TestSensitivitySaysWhatCouldNotBeClosed(t *testing.T) {
	t.Parallel()
	in := worked(t)
	in.Entries[1].Amount = money(t, "-3500000.00") // the amber is at nothing but a few tenths of a cent
	variants := varied(t, in, 0)
	require.Equal(t, "PRICE_BELOW_ZERO", variants[0].Refused.State)
	require.Nil(t, variants[0].Summary)
	require.Nil(t, variants[1].Refused)
}

// Only what is in the run and goes to another pool is unsold honey: not sales, not honey taken over, not what came later.
func TestUnsoldIsWhatOtherPoolsTakeOver(t *testing.T) {
	t.Parallel()
	other := id("other pool")
	record := func(name string, kind pool.EntryKind, counter uuid.UUID) *pool.Record {
		return &pool.Record{ID: id(name), Kind: kind, Amount: 100_00, Counter: counter}
	}
	all := []*pool.Record{record("sales", pool.Proceeds, uuid.UUID{}), record("carried", pool.Proceeds, other), record("bought", pool.Expense, other)}
	head := pool.NewHead(&pool.Account{ID: id("pool")}, all)
	require.Equal(t, quantity.Money(100_00), pool.Unsold(head, append(all, record("later", pool.Proceeds, other))))
}
