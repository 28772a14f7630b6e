package rpc_test

import (
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/fixture"
	"barrelhead.example/services/kit/rpctest"
)

// organic delivers three graded barrels declared organic, 21 to 23, on a ticket of the number given.
func (h *house) organic(ticket int) {
	h.t.Helper()
	d := fixture.Delivery{
		Number: ticket, Member: "members/M-0007", CropYear: 2026, Date: "2026-09-14", Declared: true,
		Claims: []*intakev1.HoneyClaim{{Claim: "Organic ", Certificate: "OC-2231"}},
	}
	for n := 21; n <= 23; n++ {
		d.Barrels = append(d.Barrels, fixture.Barrel{Number: n, Net: "640.0", Variety: "clover"})
	}
	fixture.Apply(h.t, h.db, d.Events()...)
	for i, b := range d.Barrels {
		fixture.Apply(h.t, h.db, fixture.Certified(b, fixture.Grade{Number: 40 + i, Grade: "A", ColorClass: "WHITE", Moisture: "17.4", Pfund: "30.0"}))
	}
}

func (h *house) test(by inventoryv1.WarehouseRecordsServiceClient, n int, outcome inventoryv1.ClaimOutcome) (*inventoryv1.ClaimTest, error) {
	return by.RecordClaimTest(h.t.Context(), &inventoryv1.RecordClaimTestRequest{
		RequestId: request(), StockItem: item(n), Claim: "ORGANIC", Outcome: outcome, Report: "R-7", Method: "residue screen",
	})
}

func (h *house) approve(login, stockItem string) (*inventoryv1.ClaimApproval, error) {
	return h.records(login, office).ApproveClaim(h.t.Context(), &inventoryv1.ApproveClaimRequest{
		RequestId: request(), StockItem: stockItem, Claim: "organic", Evidence: "certificate OC-2231, file 7",
	})
}

func (h *house) withdraw(n int) (*inventoryv1.ClaimApproval, error) {
	return h.records("office1", office).WithdrawClaim(h.t.Context(), &inventoryv1.WithdrawClaimRequest{
		RequestId: request(), StockItem: item(n), Claim: "organic", Reason: "certificate lapsed",
	})
}

func (h *house) claim(name string) *inventoryv1.StockClaim {
	h.t.Helper()
	i, err := h.as("wh1", warehouse).GetStockItem(h.t.Context(), &inventoryv1.GetStockItemRequest{Name: name})
	require.NoError(h.t, err)
	require.Len(h.t, i.GetClaims(), 1)
	return i.GetClaims()[0]
}

const (
	supports    = inventoryv1.ClaimOutcome_CLAIM_OUTCOME_SUPPORTS
	contradicts = inventoryv1.ClaimOutcome_CLAIM_OUTCOME_CONTRADICTS
)

func TestTheLaboratoryTestsAClaimByTheBlindCodeAlone(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.organic(21)
	lead := h.records("lead1", labLead)
	req := &inventoryv1.RecordClaimTestRequest{
		RequestId: request(), Sample: fixture.Barrel{Number: 21}.Sample(), Claim: "Organic", Outcome: supports, Report: "R-9", Method: "residue screen",
	}
	made, err := lead.RecordClaimTest(t.Context(), req)
	require.NoError(t, err)
	require.Empty(t, made.GetStockItem(), "a code beside a barrel would end the blindness")
	require.Equal(t, "R-9", h.claim(item(21)).GetTested().GetReport())
	require.Equal(t, item(21), h.claim(item(21)).GetTested().GetStockItem())

	req.RequestId, req.Sample = request(), "samples/NOBODYS"
	_, err = lead.RecordClaimTest(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "samples/NOBODYS"})
	req.StockItem = item(21)
	_, err = lead.RecordClaimTest(t.Context(), req)
	rpctest.Faults(t, err, "sample")
	req.StockItem, req.Sample = "", ""
	_, err = lead.RecordClaimTest(t.Context(), req)
	rpctest.Faults(t, err, "stock_item")
}

func TestAClaimIsDeclaredTestedAndApprovedByDifferentHands(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.deliver(1, 1)
	h.organic(21)
	wh, both := h.records("wh1", warehouse), h.records("pat", office, warehouse)
	declared := h.claim(item(21))
	require.Equal(t, "organic", declared.GetClaim())
	require.Equal(t, "OC-2231", declared.GetDeclared().GetEvidence())
	require.Nil(t, declared.GetTested())
	require.Nil(t, declared.GetApproved())
	require.False(t, declared.GetStands())

	_, err := h.approve("office1", item(1))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_DECLARED"})
	_, err = h.test(wh, 21, contradicts)
	require.NoError(t, err)
	_, err = h.approve("office1", item(21))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CONTRADICTED"})
	_, err = h.test(both, 21, supports)
	require.NoError(t, err)
	_, err = h.approve("pat", item(21))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, nil)
	_, err = h.withdraw(21)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NOT_APPROVED"})

	// Two of the office at once: one approval.
	var wg sync.WaitGroup
	errs := make([]error, 2)
	for i := range errs {
		wg.Go(func() { _, errs[i] = h.approve([]string{"office1", "office2"}[i], item(21)) })
	}
	wg.Wait()
	if errs[0] == nil {
		errs[0], errs[1] = errs[1], errs[0]
	}
	require.NoError(t, errs[1])
	rpctest.RefusedAs(t, errs[0], errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "APPROVED"})
	require.True(t, h.claim(item(21)).GetStands())

	// What is filled from the barrel has its claims, and asking for the small container decides for all of it.
	split, err := h.as("wh1", warehouse).SplitBarrel(t.Context(), &inventoryv1.SplitBarrelRequest{RequestId: request(), Name: item(21), Parts: []*inventoryv1.SplitPart{{DrumTag: "PAIL-1", Net: lb("60.0")}}})
	require.NoError(t, err)
	pail := split.GetStockItems()[0]
	require.True(t, h.claim(pail).GetStands())
	_, err = h.test(wh, 21, contradicts)
	require.NoError(t, err)
	ended := h.claim(pail)
	require.False(t, ended.GetStands())
	require.Equal(t, "users/wh1", ended.GetApproved().GetWithdrawer())
	require.Contains(t, ended.GetApproved().GetWithdrawReason(), "R-7")
	_, err = h.test(wh, 21, supports)
	require.NoError(t, err)
	require.False(t, h.claim(pail).GetStands(), "a better test approves nothing")
	_, err = h.approve("office1", pail)
	require.NoError(t, err)
	require.True(t, h.claim(item(21)).GetStands())
	require.Equal(t, 1, h.events("ClaimWithdrawn"))
	require.Equal(t, 2, h.events("ClaimApproved"))
	require.Equal(t, 4, h.events("ClaimTested"))

	// Another member's word was not looked at.
	d := fixture.Delivery{Number: 21, Barrels: []fixture.Barrel{{Number: 21, Net: "640.0", Variety: "clover"}}, Member: "members/M-0007", CropYear: 2026, Date: "2026-09-14", Declared: true}
	old := d.Ticket()
	d.Number, d.Member, d.Claims = 22, "members/M-0009", []*intakev1.HoneyClaim{{Claim: "organic"}}
	fixture.Apply(t, h.db, &intakev1.TicketReissued{OldTicket: old, NewTicket: d.Ticket()})
	require.False(t, h.claim(item(21)).GetStands())

	_, err = h.test(h.records("line1", line), 21, supports)
	require.Error(t, err)
	_, err = wh.ApproveClaim(t.Context(), &inventoryv1.ApproveClaimRequest{RequestId: request(), StockItem: item(22), Claim: "organic", Evidence: "file 7"})
	require.Error(t, err)
	_, err = wh.RecordClaimTest(t.Context(), &inventoryv1.RecordClaimTestRequest{RequestId: request(), StockItem: "barrels/7", Claim: "  x ", Outcome: supports, Report: "R-7", Method: "screen"})
	rpctest.Faults(t, err, "stock_item", "claim")
}

func TestABlendTakesAShareByAnApprovedClaim(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.shelf()
	h.organic(21)
	_, err := h.approve("office1", item(22))
	require.NoError(t, err)
	wh := h.as("wh1", warehouse)
	q := question()
	o := q.GetOrders()[0]
	o.MinWeight, o.MaxWeight, o.MinPfundMm, o.MaxPfundMm, o.Variety, o.MinSharePercent = lb("640.0"), lb("640.0"), "", "", "", ""
	o.Groups = []*inventoryv1.BlendGroup{{Name: "certified", Claim: " Organic", MinSharePercent: "100"}}
	plan, err := wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, []string{item(22)}, plan.GetOrders()[0].GetStockItems(), "declared is not approved")
	check, err := wh.CheckBlendSwap(t.Context(), &inventoryv1.CheckBlendSwapRequest{Order: o, StockItems: []string{item(22)}, OutItems: []string{item(22)}, InItems: []string{item(23)}})
	require.NoError(t, err)
	require.False(t, check.GetAccepted())
	o.Groups[0].StockItems = []string{item(23)}
	check, err = wh.CheckBlendSwap(t.Context(), &inventoryv1.CheckBlendSwapRequest{Order: o, StockItems: []string{item(22)}, OutItems: []string{item(22)}, InItems: []string{item(23)}})
	require.NoError(t, err)
	require.True(t, check.GetAccepted(), "listed barrels count beside those of the claim")
	o.Groups[0].StockItems = nil
	_, err = h.withdraw(22)
	require.NoError(t, err)
	plan, err = wh.PlanBlend(t.Context(), q)
	require.NoError(t, err)
	require.Equal(t, inventoryv1.BlendStatus_BLEND_STATUS_INFEASIBLE, plan.GetStatus())
}

func TestALabelWithACertifiedClaimWaitsForEveryBarrelTheHeelIncluded(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.organic(21)
	certified := face()
	certified.CertifiedClaims = []string{"Organic", "organic "}
	create := &inventoryv1.CreateLabelRequest{RequestId: request(), LabelId: "ORGANIC-1", Title: "Organic honey", Face: certified}
	_, err := f.office.CreateLabel(t.Context(), create)
	rpctest.Faults(t, err, "face.certified_claims[1]")
	certified.CertifiedClaims = certified.GetCertifiedClaims()[:1]
	entered, err := f.office.CreateLabel(t.Context(), create)
	require.NoError(t, err)
	require.Equal(t, []string{"organic"}, entered.GetFace().GetCertifiedClaims())
	_, err = f.as("lead1", labLead).ApproveLabel(t.Context(), &inventoryv1.ApproveLabelRequest{RequestId: request(), Name: "labels/ORGANIC-1", Evidence: "proof sheet"})
	require.NoError(t, err)

	first := f.charge("T1", "0")
	f.fill(first.GetName(), 1)
	second := f.charge("T1", "5") // five pounds of a barrel that claims nothing
	f.fill(second.GetName(), 21)
	start := func() (*inventoryv1.PackLot, error) {
		return f.line.StartPackLot(t.Context(), &inventoryv1.StartPackLotRequest{RequestId: request(), Charge: second.GetName(), Label: "labels/ORGANIC-1", Line: "L1"})
	}
	_, err = f.approve("office1", item(21))
	require.NoError(t, err)
	_, err = start()
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"limit": "CERTIFIED_CLAIM", "claim": "organic", "value": "1", "allowed": "2"})

	third := f.charge("T2", "0")
	f.fill(third.GetName(), 22)
	second = third
	_, err = start()
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"value": "0", "allowed": "1"})
	_, err = f.approve("office1", item(22))
	require.NoError(t, err)
	lot, err := start()
	require.NoError(t, err)
	_, err = f.draw(lot.GetName(), third.GetName(), "100.0")
	require.NoError(t, err)
	f.fill(third.GetName(), 23)
	_, err = f.draw(lot.GetName(), third.GetName(), "10.0")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"value": "1", "allowed": "2"})

	// A claim withdrawn afterwards leaves the lot alone, and shows.
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 100, MeanNet: lb("1.0")})
	require.NoError(t, err)
	_, err = f.withdraw(22)
	require.NoError(t, err)
	_, err = f.line.Ship(t.Context(), &inventoryv1.ShipRequest{RequestId: request(), Customer: "Creekside Grocers", RecallContact: "555 0100", Carrier: "Valley Freight", CarrierAddress: "12 Depot Road, Lower Valley", CarrierTelephone: "555 0160", Lines: []*inventoryv1.ShipmentLine{{PackLot: lot.GetName(), Jars: 10}}})
	require.NoError(t, err)
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, "certificate lapsed", trace.GetSources()[0].GetClaims()[0].GetApproved().GetWithdrawReason())
}
