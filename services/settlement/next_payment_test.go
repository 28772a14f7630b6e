package settlement_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// A member reads the date the office has set, or what it waits for, and never a promise nobody made.
func TestWhenTheMoneyComes(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	read := func() *settlementv1.Statement {
		s, err := m.as(rpctest.Member("M-0001")).GetStatement(t.Context(), statementOf("M-0001"))
		require.NoError(t, err)
		return s
	}
	first := read()
	require.Equal(t, "$1,969.37 is yours and is not paid yet: waiting for a verified bank account of Orchard Hill Apiary.", first.GetPaymentWords())
	require.Nil(t, first.GetNextPayment())
	require.NoError(t, m.verify(treasurer, m.account("members/M-0001", "111000025")))
	require.Contains(t, read().GetPaymentWords(), "the bank details changed lately")
	m.clk.Advance(11 * 24 * time.Hour)
	require.Equal(t, "$1,969.37 is ready to be paid. The office has not set the next payment day yet.", read().GetPaymentWords())
	m.notice(lien("M-0002", "50.0"))
	b := m.batch()
	planned := read()
	require.Equal(t, "A payment of $1,969.37 is planned for "+b.GetPayDate()+".", planned.GetPaymentWords())
	require.Equal(t, []string{"1969.37", b.GetPayDate()}, []string{planned.GetNextPayment().GetAmount(), planned.GetNextPaymentDate()})
	require.Equal(t, first.GetVerificationCode(), planned.GetVerificationCode(), "what changes by the day is no part of what a paper is checked by")
	_, err := m.payOut(treasurer, b)
	require.NoError(t, err)
	require.Empty(t, read().GetPaymentWords())
}
