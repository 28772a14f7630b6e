package settlement_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

func TestUnsoldHoneyIsSoldToTheNextPool(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	next := tablePool()
	next.CropYear, next.Title = 2027, "Table honey 2027"
	to, err := m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: next})
	require.NoError(t, err)
	carry := func(from, to, amount string) (*settlementv1.CarryOverResponse, error) {
		return m.as(office).CarryOver(t.Context(), &settlementv1.CarryOverRequest{
			RequestId: uuid.NewString(), Pool: from, ToPool: to, Amount: usd(amount), Description: "112 barrels at net realisable value", Document: "Board 2027-05-02 no. 3", EntryDate: "2026-09-18",
		})
	}
	_, err = carry(m.pool.GetName(), m.pool.GetName(), "500.00")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "SAME_POOL"})
	_, err = carry(m.pool.GetName(), "pools/"+uuid.NewString(), "500.00")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	out, err := carry(m.pool.GetName(), to.GetName(), "500.25")
	require.NoError(t, err)
	require.Equal(t, []string{to.GetName(), m.pool.GetName()}, []string{out.GetSold().GetCounterPool(), out.GetBought().GetCounterPool()})
	require.Equal(t, "Carried over to Table honey 2027: 112 barrels at net realisable value", out.GetSold().GetDescription())
	m.sells("5000.00")
	for name, want := range map[string]string{m.pool.GetName(): "5500.25", to.GetName(): "-500.25"} {
		p, err := m.as(auditor).GetPool(t.Context(), &settlementv1.GetPoolRequest{Name: name})
		require.NoError(t, err)
		require.Equal(t, want, p.GetDistributable().GetAmount(), "out of the one is into the other")
	}
	balances := m.balances()
	require.Equal(t, "500.25", balances["expenses:costs:2027"])
	require.NotContains(t, balances, "assets:carried-over", "it is at nothing: no money moved")
	m.settled()
	_, err = carry(m.pool.GetName(), to.GetName(), "-500.25")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
	list, err := m.as(auditor).ListPoolEntries(t.Context(), &settlementv1.ListPoolEntriesRequest{Pool: to.GetName()})
	require.NoError(t, err)
	require.Len(t, list.GetEntries(), 1)
	require.Equal(t, settlementv1.PoolEntryKind_POOL_ENTRY_KIND_EXPENSE, list.GetEntries()[0].GetKind())
}
