package settlement_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/settlement/internal/domain"
)

func scaleReview(id string, barrels ...string) *intakev1.ScaleReviewOpened {
	r := &intakev1.ScaleReview{Name: "scaleReviews/" + made(id), Scale: "scales/1"}
	for _, b := range barrels {
		r.Barrels = append(r.Barrels, "barrels/"+made(b))
	}
	return &intakev1.ScaleReviewOpened{Review: r}
}

// reweighed is a re-weigh of a barrel of 640.0 lb in a drum of 43.0 lb.
func reweighed(barrel string, number int, correction string) *intakev1.BarrelReweighed {
	after := map[string]string{"0.0": "683.0", "-4.0": "679.0", "-36.0": "647.0"}[correction]
	net := map[string]string{"0.0": "640.0", "-4.0": "636.0", "-36.0": "604.0"}[correction]
	return &intakev1.BarrelReweighed{Reweigh: &intakev1.Reweigh{
		Name: fmt.Sprintf("barrels/%s/reweighs/%d", made(barrel), number), Barrel: "barrels/" + made(barrel),
		PreviousGross: lb("683.0"), Gross: lb(after), Net: lb(net), NetCorrection: lb(correction),
	}}
}

func tareVariance(barrel, correction string) *intakev1.TareVarianceFound {
	return &intakev1.TareVarianceFound{Variance: &intakev1.TareVariance{
		Name: "tareVariances/" + made(barrel), Barrel: "barrels/" + made(barrel), Tare: lb("38.0"), EmptyWeight: lb("47.0"),
		NetCorrection: lb(correction), Allowed: lb("2.0"),
	}}
}

// doubted is a failed control under the first certificates of barrels.
func doubted(control string, barrels ...string) *gradingv1.ResultsReturnedToPending {
	r := &gradingv1.DoubtedResults{ControlRun: control}
	for _, b := range barrels {
		r.Certificates = append(r.Certificates, graded(b, 1, "17.0", "WHITE", "A").GetCertificate().GetName())
	}
	return &gradingv1.ResultsReturnedToPending{Results: r, Explanation: "the control read 17.9 where 17.5 ± 0.2 was due"}
}

// unfit is a broken chain of custody under the first certificate of a barrel.
func unfit(barrel string) *gradingv1.CertificateUnfit {
	return &gradingv1.CertificateUnfit{
		Certificate: graded(barrel, 1, "17.0", "WHITE", "A").GetCertificate().GetName(), Sample: "samples/S-" + barrel,
		Gap: &gradingv1.CustodyGap{Portion: gradingv1.SamplePortion_SAMPLE_PORTION_A}, Explanation: "Portion A was received at office",
	}
}

// A result of a portion nobody can vouch for prices nothing, takes nothing back, and gives way to the next certificate.
func TestUnfitResultIsNotPriced(t *testing.T) {
	t.Parallel()
	h := openDock(t)
	h.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	h.take(unfit("FC-1"))
	h.take(unfit("FC-1")) // a fact may come twice
	h.barrel("FC-1")
	h.barrel("FC-2")
	h.take(graded("FC-2", 1, "17.0", "WHITE", "A"))
	paid := h.payouts("M-0001")
	require.Len(t, paid, 1)
	require.Equal(t, "its result cannot count: Portion A was received at office", h.waiting()["FC-1"])
	h.take(unfit("FC-2"))
	require.NoError(t, h.app.Sweep(t.Context()))
	require.Equal(t, paid, h.payouts("M-0001"), "what was paid stays")
	h.take(graded("FC-1", 2, "17.4", "WHITE", "A"))
	require.Len(t, h.payouts("M-0001"), 2)
	require.Empty(t, h.waiting())
}

// feeDue is a lost appeal against the first certificate of a barrel.
func feeDue(barrel string) *gradingv1.AppealDecided {
	return &gradingv1.AppealDecided{Appeal: &gradingv1.Appeal{
		Name: "appeals/" + made("appeal of "+barrel), Sample: "samples/S-" + barrel, Stage: gradingv1.AppealStage_APPEAL_STAGE_REFEREE,
		Certificate: graded(barrel, 1, "17.0", "WHITE", "A").GetCertificate().GetName(), Fee: gradingv1.AppealFee_APPEAL_FEE_DUE,
		Explanation: "the outside laboratory found 19.3 where we found 19.2",
	}}
}

func openDock(t *testing.T) *house {
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	return h
}

func (h *house) barrel(tag string) {
	h.take(sampled(tag))
	h.take(closed(ticket("T-"+tag, "M-0001", barrelOf{tag, "640.0", "clover"})))
}

// Whatever comes first, a barrel is never priced while its weight is in doubt.
func TestFlaggedBarrelIsNotPriced(t *testing.T) {
	t.Parallel()
	h := openDock(t)
	h.take(scaleReview("r1", "FC-1", "FC-2"))
	h.barrel("FC-1")
	h.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	h.barrel("FC-2")
	h.take(graded("FC-2", 1, "17.0", "WHITE", "A"))
	h.take(held("FC-2", inventoryv1.HoldCode_HOLD_CODE_SCALE))
	h.take(released("FC-2", inventoryv1.HoldCode_HOLD_CODE_SCALE))
	require.Empty(t, h.payouts("M-0001"))
	require.NoError(t, h.app.Sweep(t.Context()))
	require.Empty(t, h.payouts("M-0001"), "nor by the sweep")
	require.Contains(t, h.waiting()["FC-1"], "a check of the scale it was weighed on failed")
	h.take(reweighed("FC-1", 1, "-4.0"))
	require.Empty(t, h.payouts("M-0001"), "the re-weigh counts with the decision")
	resolved := scaleReview("r1")
	h.take(&intakev1.ScaleReviewResolved{Review: resolved.GetReview()})
	require.Len(t, h.payouts("M-0001"), 2)
	require.Equal(t, "1276.0", h.total("M-0001").GetNet().GetValue())
	require.Empty(t, h.waiting())
}

func TestReweighPostsTheDifference(t *testing.T) {
	t.Parallel()
	h := openDock(t)
	h.barrel("FC-1")
	h.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	before := h.total("M-0001").GetNetAmount().GetAmount()
	h.take(scaleReview("r1", "FC-1"))
	h.take(reweighed("FC-1", 1, "-4.0"))
	require.Equal(t, before, h.total("M-0001").GetNetAmount().GetAmount(), "what was paid stays while it is in doubt")
	h.take(&intakev1.ScaleReviewResolved{Review: scaleReview("r1").GetReview()})
	got := h.payouts("M-0001")
	require.Len(t, got, 3)
	require.Equal(t, "Weighed again, the barrel and its drum came to 679.0 lb and not 683.0 lb, so 636.0 lb net counts. "+
		"Barrel FC-1 is paid on its full weight: 636.0 lb of clover, white, grade A at $1.15 per lb.", got[0].GetHeadline())
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_REVERSAL, got[1].GetKind())
	require.Equal(t, "636.0", h.total("M-0001").GetNet().GetValue())
	h.take(reweighed("FC-1", 2, "-4.0"))
	require.Len(t, h.payouts("M-0001"), 3, "the same weight once more changes nothing")
	h.take(reweighed("FC-1", 3, "0.0"))
	require.Len(t, h.payouts("M-0001"), 5)
	require.Equal(t, before, h.total("M-0001").GetNetAmount().GetAmount())
}

// 640.0 lb in a drum stencilled 38 that weighs 47 empty: 9.0 lb were no honey.
func TestTareVarianceByPolicy(t *testing.T) {
	t.Parallel()
	h := openDock(t)
	for _, tag := range []string{"FC-1", "FC-2", "FC-3"} {
		h.barrel(tag)
		h.take(graded(tag, 1, "17.0", "WHITE", "A"))
	}
	h.take(tareVariance("FC-1", "-9.0"))
	h.take(tareVariance("FC-1", "-9.0"))
	h.take(tareVariance("FC-2", "-2.0"))
	h.prj.Tare = domain.TarePolicy{Keep: true}
	h.take(tareVariance("FC-3", "-9.0"))
	got := h.payouts("M-0001")
	require.Len(t, got, 5, "one corrected, one let pass, one kept by policy")
	require.Contains(t, got[0].GetHeadline(), "The emptied drum weighed 47.0 lb where the ticket said 38.0 lb, so there was 9.0 lb less honey in it.")
	require.Equal(t, "631.0", got[0].GetNet().GetValue())
	// 9.0 lb × (1.15 − 0.02 − 0.03)
	require.Equal(t, "2102.10", h.total("M-0001").GetNetAmount().GetAmount())
}

func TestPendingResultIsNotPriced(t *testing.T) {
	t.Parallel()
	h := openDock(t)
	h.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	h.take(graded("FC-2", 1, "17.0", "WHITE", "A"))
	h.take(doubted("controlRuns/1", "FC-1", "FC-2"))
	h.barrel("FC-1")
	h.barrel("FC-2")
	require.Empty(t, h.payouts("M-0001"))
	require.Equal(t, "its result is checked again: the control read 17.9 where 17.5 ± 0.2 was due", h.waiting()["FC-1"])
	h.take(graded("FC-2", 2, "17.1", "WHITE", "A"))
	require.Len(t, h.payouts("M-0001"), 1, "a new certificate rests on new results")
	h.take(&gradingv1.ResultsConfirmed{Results: doubted("controlRuns/1", "FC-1", "FC-2").GetResults(), Reason: "drift found in the control only"})
	require.Len(t, h.payouts("M-0001"), 2)
}

func TestNoClosingCountsOnWhatIsInDoubt(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.take(doubted("controlRuns/1", "FC-4"))
	m.take(scaleReview("r1", "FC-3"))
	r := m.prepare()
	require.Equal(t, int32(2), r.GetBarrels())
	require.Equal(t, int32(2), r.GetBarrelsLeftOut())
}

func TestLoserBearsTheFeeOnce(t *testing.T) {
	t.Parallel()
	h := openDock(t)
	h.app.Fee = domain.FeePolicy{Amount: 85_00, Authority: "House rules of appeals, rule 4"}
	h.take(graded("FC-1", 1, "19.2", "WHITE", "A"))
	h.take(feeDue("FC-1"))
	require.Empty(t, h.facts()[pricedFact], "whose barrel it is, is not known yet")
	h.barrel("FC-1")
	h.take(feeDue("FC-1"))
	got := h.payouts("M-0001")
	require.Len(t, got, 2)
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_FEE, got[0].GetKind())
	require.Equal(t, "-85.00", got[0].GetNetAmount().GetAmount())
	require.Equal(t, "House rules of appeals, rule 4", got[0].GetLines()[0].GetExplanation().GetAuthority())
	require.Contains(t, got[0].GetHeadline(), "$85.00, is yours")
	require.Equal(t, int32(1), h.total("M-0001").GetPricedBarrels())
	refunded := feeDue("FC-1")
	refunded.Appeal.Name, refunded.Appeal.Fee = "appeals/"+made("won"), gradingv1.AppealFee_APPEAL_FEE_REFUNDED
	h.take(refunded)
	require.Len(t, h.payouts("M-0001"), 2, "who wins an appeal bears nothing")
}
