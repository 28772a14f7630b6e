package settlement_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// Two members are in the run, one with one barrel and one with three: whatever is asked, neither is shown.
func TestComparisonShowsNobody(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	trial := &settlementv1.CompareMembersRequest{Run: m.prepare().GetName()}
	_, err := m.as(board).CompareMembers(t.Context(), trial)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_RELEASED"})
	got, err := m.as(board).CompareMembers(t.Context(), &settlementv1.CompareMembersRequest{Run: m.settled().GetName()})
	require.NoError(t, err)
	require.Len(t, got.GetGroups(), 4)
	for _, g := range got.GetGroups()[:2] {
		require.True(t, g.GetSuppressed(), g.GetDescription())
		require.Nil(t, g.GetAverage())
		require.Nil(t, g.GetPayable())
		require.Zero(t, g.GetMembers())
	}
	require.False(t, got.GetGroups()[2].GetSuppressed(), "nobody brought that much, which gives nobody away")
}
