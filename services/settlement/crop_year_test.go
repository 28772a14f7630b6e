package settlement_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/rpctest"
)

// twoYears is a market where M-0002 has 704.00 of crop year 2026 and a barrel of 2025 that earned as much.
func twoYears(t *testing.T) *market {
	m := openMarket(t)
	m.priceYear(2025, "FC-50")
	m.bank()
	return m
}

func (m *market) priceYear(year int32, tag string) {
	old := prices("2026-07-01")
	old.CropYear = year
	m.adopt(old)
	m.deliverYear(year, tag)
}

func (m *market) deliverYear(year int32, tag string) {
	earlier := ticket("T-"+tag, "M-0002", barrelOf{tag, "640.0", "clover"})
	earlier.CropYear = year
	m.take(sampled(tag))
	m.take(closed(earlier))
	m.take(graded(tag, 1, "17.0", "WHITE", "A"))
}

func (m *market) lienOf(year int32, percent string) *settlementv1.Encumbrance {
	n := lien("M-0002", percent)
	n.CropYear = year
	return m.notice(n)
}

// paidTo are the amounts a batch pays of one member, by payee.
func paidTo(b *settlementv1.PaymentBatch, member string) map[string]string {
	out := map[string]string{}
	for _, p := range b.GetPayments() {
		if p.GetMember() == member {
			out[p.GetEncumbrance()] = p.GetAmount().GetAmount()
		}
	}
	return out
}

func TestALienOfACropYearIsMatchedAtTheRunAndAtItsRelease(t *testing.T) {
	t.Parallel()
	m := twoYears(t)
	first := m.batch()
	require.Equal(t, map[string]string{"": "1408.00"}, paidTo(first, "members/M-0002"))
	n := m.lienOf(2025, "50.0")
	require.Equal(t, int32(2025), n.GetCropYear())
	require.NoError(t, m.verify(treasurer, m.account(n.GetName(), "021000021")))
	m.clk.Advance(11 * 24 * time.Hour)
	late, err := m.payOut(treasurer, first)
	require.NoError(t, err)
	require.Empty(t, paidTo(late, "members/M-0002"), "the notice came between the run and its release")

	prepare := func() *settlementv1.PaymentBatch {
		b, err := m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-10-20"})
		require.NoError(t, err)
		return b
	}
	b := prepare()
	require.Equal(t, map[string]string{n.GetName(): "352.00", "": "1056.00"}, paidTo(b, "members/M-0002"))
	require.Contains(t, b.GetPayments()[0].GetExplanation(), "50.0 % of $704.00 of crop year 2025 by Notice of 2026-09-20")
	s := m.statement("M-0002")
	require.Equal(t, int32(2025), s.GetCreditors()[0].GetCropYear())
	require.Contains(t, pdfInOrder(t, m.print("M-0002").GetContent()), "lien: 50.0 % of what a payment holds of crop year 2025 by Notice of 2026-09-20")
	released, err := m.payOut(treasurer, b)
	require.NoError(t, err)
	require.Len(t, paidTo(released, "members/M-0002"), 2)

	m.deliverYear(2026, "FC-60")
	require.Equal(t, map[string]string{"": "704.00"}, paidTo(prepare(), "members/M-0002"), "what stands now is of another crop year, however much 2025 has earned")
	m.deliverYear(2025, "FC-61")
	require.Equal(t, map[string]string{n.GetName(): "352.00", "": "1056.00"}, paidTo(prepare(), "members/M-0002"))
	m.charge("M-0002", "-100.00")
	require.Equal(t, map[string]string{n.GetName(): "302.00", "": "1006.00"}, paidTo(prepare(), "members/M-0002"), "a charge comes off the oldest")

	for _, p := range released.GetPayments() {
		if p.GetEncumbrance() == n.GetName() {
			_, err = m.as(office).ReturnPayment(t.Context(), &settlementv1.ReturnPaymentRequest{RequestId: uuid.NewString(), Name: p.GetName(), Reason: "account closed"})
			require.NoError(t, err)
		}
	}
	require.Equal(t, map[string]string{n.GetName(): "478.00", "": "1182.00"}, paidTo(prepare(), "members/M-0002"), "352.00 came back and is of 2025 as before")
}

func TestAnUnclearNoticeOfACropYearBlocksThatYear(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.bank()
	n := lien("M-0002", "50.0")
	n.CropYear, n.Unresolved = 2025, true
	m.notice(n)
	require.Equal(t, map[string]string{"": "704.00"}, paidTo(m.batch(), "members/M-0002"))
	m.priceYear(2025, "FC-50")
	require.Equal(t, "a notice of 2026-09-20 is not resolved; until it is, the cooperative could have to pay twice", m.batch().GetBlocked()[0].GetReason())
}

func TestANoticeNamesAPossibleCropYear(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	n := lien("M-0002", "50.0")
	n.CropYear = 26
	_, err := m.as(office).RegisterEncumbrance(t.Context(), &settlementv1.RegisterEncumbranceRequest{RequestId: uuid.NewString(), Encumbrance: n})
	rpctest.Faults(t, err, "encumbrance.crop_year")
	n.CropYear, n.Kind = 2026, settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_LEVY
	_, err = m.as(office).RegisterEncumbrance(t.Context(), &settlementv1.RegisterEncumbranceRequest{RequestId: uuid.NewString(), Encumbrance: n})
	rpctest.Faults(t, err, "encumbrance.crop_year")
	list, err := m.as(office).ListEncumbrances(t.Context(), &settlementv1.ListEncumbrancesRequest{})
	require.NoError(t, err)
	require.Empty(t, list.GetEncumbrances())
}
