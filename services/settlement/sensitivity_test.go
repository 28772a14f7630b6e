package settlement_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// 2,558.3 lb make a cent a pound 25.58. Of 5,500.00, 500.00 is honey another pool takes over.
func TestWhatARunWouldComeToWithOtherFigures(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5000.00")
	m.spends("600.00")
	next, err := m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: &settlementv1.Pool{
		CropYear: 2027, Title: "Table honey 2027", Differentials: tablePool().GetDifferentials(),
	}})
	require.NoError(t, err)
	_, err = m.as(office).CarryOver(t.Context(), &settlementv1.CarryOverRequest{
		RequestId: uuid.NewString(), Pool: m.pool.GetName(), ToPool: next.GetName(), Amount: usd("500.00"), Description: "12 barrels", Document: "Board 2027-05-02 no. 3", EntryDate: "2027-05-31",
	})
	require.NoError(t, err)
	r := m.prepare()
	require.Equal(t, "1.92029", r.GetBasePrice().GetAmount())
	s, err := m.as(treasurer).GetRunSensitivity(t.Context(), &settlementv1.GetRunSensitivityRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.Equal(t, "500.00", s.GetUnsold().GetAmount())
	var got [][4]string
	for _, v := range s.GetVariants() {
		got = append(got, [4]string{v.GetDescription(), v.GetShift().GetAmount(), v.GetBasePrice().GetAmount(), v.GetBasePriceDifference().GetAmount()})
	}
	require.Equal(t, [][4]string{
		{"expenses $0.01 more for each lb", "-25.58", "1.91029", "-0.01"},
		{"expenses $0.01 less for each lb", "25.58", "1.93029", "0.01"},
		{"unsold honey worth 5 % more", "25.00", "1.93007", "0.00978"},
		{"unsold honey worth 5 % less", "-25.00", "1.91052", "-0.00977"},
	}, got)

	// The same figure entered for good, the next run comes to what was said.
	m.spends("25.58")
	entered := m.prepare()
	require.Equal(t, entered.GetDue().GetAmount(), s.GetVariants()[0].GetDue().GetAmount())
	again, err := m.as(board).GetRun(t.Context(), &settlementv1.GetRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.Equal(t, r.GetFingerprint(), again.GetFingerprint(), "nothing was stored")
	_, err = m.as(rpctest.Member("M-0001")).GetRunSensitivity(t.Context(), &settlementv1.GetRunSensitivityRequest{Name: r.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, nil)
}
