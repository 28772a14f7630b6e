package rpc_test

import (
	"context"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
)

const (
	approved = inventoryv1.WriteOffState_WRITE_OFF_STATE_APPROVED
	declined = inventoryv1.WriteOffState_WRITE_OFF_STATE_DECLINED
	awaiting = inventoryv1.WriteOffState_WRITE_OFF_STATE_WAITING
)

// offs is the service of write-offs as seen by a person.
func (h *house) offs(login string, roles ...accessv1.Role) inventoryv1.WriteOffServiceClient {
	return inventoryv1.NewWriteOffServiceClient(h.server.As(rpctest.Person(login, roles...)))
}

// missing asks for a mass to be written off.
func (f *floor) missing(from, mass string) *inventoryv1.WriteOff {
	f.t.Helper()
	o, err := f.offs("wh1", warehouse).RequestWriteOff(f.t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: from, Mass: lb(mass), Reason: "looked for twice"})
	require.NoError(f.t, err)
	return o
}

// decide is one person of the office deciding.
func (f *floor) decide(login string, o *inventoryv1.WriteOff, as inventoryv1.WriteOffState, reason string) (*inventoryv1.WriteOff, error) {
	return f.offs(login, office).DecideWriteOff(context.Background(), &inventoryv1.DecideWriteOffRequest{RequestId: request(), Name: o.GetName(), Decision: as, Reason: reason})
}

// writtenOff asks and approves, as two people.
func (f *floor) writtenOff(from, mass string) {
	f.t.Helper()
	_, err := f.decide("office1", f.missing(from, mass), approved, "")
	require.NoError(f.t, err)
}

func TestWriteOff_AccessMatrix(t *testing.T) {
	t.Parallel()
	rpctest.Matrix(t, open(t).server.Gateway(), "barrelhead.inventory.v1.WriteOffService")
}

func TestNobodyWritesHoneyOffAlone(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	for _, from := range []string{item(2), c.GetName()} {
		_, err := f.wh.RecordLoss(t.Context(), &inventoryv1.RecordLossRequest{
			RequestId: request(), From: from, Code: inventoryv1.LossCode_LOSS_CODE_UNEXPLAINED, Mass: lb("1.0"), Reason: "looked for twice",
		})
		refused := rpctest.Faults(t, err, "code")
		require.Contains(t, refused.Message, "ask for it to be written off")
	}
	for _, code := range []inventoryv1.LossCode{inventoryv1.LossCode_LOSS_CODE_DRAIN, inventoryv1.LossCode_LOSS_CODE_SPILL, inventoryv1.LossCode_LOSS_CODE_DESTROYED} {
		f.lose(c.GetName(), "1.0", code)
	}

	both := f.offs("both1", warehouse, office)
	own, err := both.RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: item(2), Mass: lb("5.0"), Reason: "the drum is light"})
	require.NoError(t, err)
	for _, as := range []inventoryv1.WriteOffState{approved, declined} {
		_, err = both.DecideWriteOff(t.Context(), &inventoryv1.DecideWriteOffRequest{RequestId: request(), Name: own.GetName(), Decision: as, Reason: "I say so"})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/both1"})
	}
	still, err := both.GetWriteOff(t.Context(), &inventoryv1.GetWriteOffRequest{Name: own.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(own, still), "what is answered is what is read later")
	require.Equal(t, "5.0", f.balanced().GetAskedWriteOff().GetValue())
}

// A charge with 40 lb nobody finds: asked for, the books stay as they are, and say so, until the office has decided.
func TestAWriteOffIsAskedForAndDecided(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	f.fill(c.GetName(), 1)
	lot := f.start(c.GetName(), "CLOVER")
	_, err := f.draw(lot.GetName(), c.GetName(), "600.0")
	require.NoError(t, err)
	ask := &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: c.GetName(), Mass: lb("40.0"), Reason: "dipped twice, it is empty"}
	wh := f.offs("wh1", warehouse)
	o, err := wh.RequestWriteOff(t.Context(), ask)
	require.NoError(t, err)
	again, err := wh.RequestWriteOff(t.Context(), ask)
	require.NoError(t, err)
	require.True(t, proto.Equal(o, again))
	require.Equal(t, []string{"40.0", "40.0", "40.0", "users/wh1", "dipped twice, it is empty"}, []string{
		o.GetMass().GetValue(), o.GetHeldWhenAsked().GetValue(), o.GetHeldNow().GetValue(), o.GetAsker(), o.GetReason(),
	})
	require.Equal(t, awaiting, o.GetState())
	ask.Mass = lb("39.0")
	_, err = wh.RequestWriteOff(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, nil)
	_, err = f.offs("line1", line).RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: c.GetName(), Mass: lb("0.1"), Reason: "the same honey"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "0.1", "asked": "40.0"})

	read, err := f.wh.GetCharge(t.Context(), &inventoryv1.GetChargeRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.Equal(t, []string{"40.0", "40.0"}, []string{read.GetContent().GetValue(), read.GetAskedWriteOff().GetValue()})
	_, err = f.wh.CloseCharge(t.Context(), &inventoryv1.CloseChargeRequest{RequestId: request(), Name: c.GetName()})
	refused := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "40.0", "asked": "40.0"})
	require.Contains(t, refused.Message, "the office has not decided yet")
	f.charge("T1", "0")
	records := f.records("auditor1", accessv1.Role_ROLE_AUDITOR)
	balance := func(by inventoryv1.BalanceBy, n int) *inventoryv1.Balance {
		list, err := records.ListBalances(t.Context(), &inventoryv1.ListBalancesRequest{By: by})
		require.NoError(t, err)
		return list.GetBalances()[n]
	}
	require.Equal(t, "40.0", balance(inventoryv1.BalanceBy_BALANCE_BY_TANK, 1).GetAskedWriteOff().GetValue())
	require.Equal(t, "40.0", balance(inventoryv1.BalanceBy_BALANCE_BY_TANK, 1).GetOpenDifference().GetValue(), "and it is still unexplained")
	require.Equal(t, "40.0", balance(inventoryv1.BalanceBy_BALANCE_BY_MONTH, 0).GetAskedWriteOff().GetValue())
	require.Equal(t, "40.0", f.balanced().GetAskedWriteOff().GetValue())
	require.Equal(t, 1, f.events("WriteOffRequested"))

	_, err = f.decide("office1", o, declined, " ")
	rpctest.Faults(t, err, "reason")
	_, err = f.decide("office1", o, awaiting, "later")
	rpctest.Faults(t, err, "decision")
	decision := &inventoryv1.DecideWriteOffRequest{RequestId: request(), Name: o.GetName(), Decision: approved, Reason: "seen the dip sheet"}
	done, err := f.offs("office1", office).DecideWriteOff(t.Context(), decision)
	require.NoError(t, err)
	same, err := f.offs("office1", office).DecideWriteOff(t.Context(), decision)
	require.NoError(t, err)
	require.True(t, proto.Equal(done, same))
	require.Equal(t, []string{"users/office1", "seen the dip sheet", "40.0", "0.0"}, []string{
		done.GetDecider(), done.GetDecideReason(), done.GetBooked().GetValue(), done.GetHeldNow().GetValue(),
	})
	_, err = f.decide("office2", o, declined, "too late")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"resource": o.GetName(), "state": "APPROVED"})
	trace, err := f.office.Trace(t.Context(), &inventoryv1.TraceRequest{Name: c.GetName()})
	require.NoError(t, err)
	require.Contains(t, where(trace), "losses/UNEXPLAINED")
	booked := trace.GetTransfers()[len(trace.GetTransfers())-1]
	require.Equal(t, []string{done.GetTransfer(), "users/office1", "users/wh1 asked: dipped twice, it is empty"}, []string{booked.GetName(), booked.GetActor(), booked.GetReason()})
	_, err = f.wh.CloseCharge(t.Context(), &inventoryv1.CloseChargeRequest{RequestId: request(), Name: c.GetName()})
	require.NoError(t, err)
	house := f.balanced()
	require.Equal(t, []string{"0.0", "40.0"}, []string{house.GetAskedWriteOff().GetValue(), house.GetLosses()[0].GetMass().GetValue()})
	require.Equal(t, 1, f.events("WriteOffDecided"))
}

func TestADeclinedWriteOffChangesNothingAndCanBeAskedAnew(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	f.hold(f.wh, 2, inventoryv1.HoldCode_HOLD_CODE_QUALITY)
	first := f.missing(item(2), "640.0")
	done, err := f.decide("office1", first, declined, "it stands at the dock")
	require.NoError(t, err)
	require.Equal(t, []string{"640.0", "", "it stands at the dock"}, []string{done.GetHeldNow().GetValue(), done.GetTransfer(), done.GetDecideReason()})
	require.Nil(t, done.GetBooked())
	require.Empty(t, f.balanced().GetLosses())
	f.writtenOff(item(2), "640.0")
	read, err := f.wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(2)})
	require.NoError(t, err)
	require.Equal(t, inventoryv1.StockState_STOCK_STATE_EMPTIED, read.GetState(), "held or not: what is not there cannot be kept")

	auditor := f.offs("auditor1", accessv1.Role_ROLE_AUDITOR)
	page, err := auditor.ListWriteOffs(t.Context(), &inventoryv1.ListWriteOffsRequest{PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, approved, page.GetWriteOffs()[0].GetState(), "newest first")
	page, err = auditor.ListWriteOffs(t.Context(), &inventoryv1.ListWriteOffsRequest{PageSize: 1, PageToken: page.GetNextPageToken()})
	require.NoError(t, err)
	require.True(t, proto.Equal(page.GetWriteOffs()[0], withHeldNow(done, "0.0")))
	require.Empty(t, page.GetNextPageToken())
	waits := f.missing(item(3), "1.0")
	page, err = auditor.ListWriteOffs(t.Context(), &inventoryv1.ListWriteOffsRequest{WaitingOnly: true})
	require.NoError(t, err)
	require.Len(t, page.GetWriteOffs(), 1)
	require.True(t, proto.Equal(waits, page.GetWriteOffs()[0]))
	page, err = auditor.ListWriteOffs(t.Context(), &inventoryv1.ListWriteOffsRequest{From: item(2)})
	require.NoError(t, err)
	require.Len(t, page.GetWriteOffs(), 2)

	for _, unknown := range []string{"stock/7", "shipments/" + request(), item(4711), "charges/" + request()} {
		_, err = f.offs("wh1", warehouse).RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: unknown, Mass: lb("1.0"), Reason: "not there"})
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": unknown})
	}
	_, err = f.offs("wh1", warehouse).RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: item(3), Jars: 1, Mass: lb("1.0"), Reason: "both"})
	rpctest.Faults(t, err, "mass")
	_, err = f.offs("wh1", warehouse).RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: item(3), Mass: lb("0.0"), Reason: "no"})
	rpctest.Faults(t, err, "reason")
	_, err = f.decide("office1", &inventoryv1.WriteOff{Name: "writeOffs/" + request()}, approved, "")
	require.Equal(t, "NOT_FOUND", apierr.Parse(err).Reason)
}

func withHeldNow(o *inventoryv1.WriteOff, mass string) *inventoryv1.WriteOff {
	changed := proto.CloneOf(o)
	changed.HeldNow = lb(mass)
	return changed
}

// Honey that turns up is used, and is then no longer there to be written off.
func TestAWriteOffIsDecidedAgainstWhatIsThere(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	o := f.missing(item(1), "640.0")
	_, err := f.wh.FillCharge(t.Context(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(1), Mass: lb("100.0")})
	require.NoError(t, err, "it turned up")
	_, err = f.decide("office1", o, approved, "")
	refused := rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"resource": item(1), "difference": "100.0"})
	require.Contains(t, refused.Message, "drum FC-00001 holds 540.0 lb by the books now, and 640.0 lb were asked to be written off: decline it")
	_, err = f.decide("office1", o, declined, "it was used")
	require.NoError(t, err)
	f.writtenOff(item(1), "540.0")

	// Jars are counted, and weigh what they weigh in their lot when they are written off.
	f.fill(c.GetName(), 3)
	lot := f.start(c.GetName(), "CLOVER")
	_, err = f.draw(lot.GetName(), c.GetName(), "700.0")
	require.NoError(t, err)
	wh, jars := f.offs("wh1", warehouse), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: lot.GetName(), Jars: 10, Reason: "not on the shelf"}
	_, err = wh.RequestWriteOff(t.Context(), jars)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OPEN"})
	drawn := f.missing(lot.GetName(), "2.0")
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 698, MeanNet: lb("1.0")})
	refused = rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "2.0", "asked": "2.0"})
	require.Contains(t, refused.Message, "lot "+lot.GetCode()+" cannot be reconciled: 2.0 lb is unexplained; 2.0 lb is asked to be written off")
	_, err = f.decide("office1", drawn, approved, "")
	require.NoError(t, err)
	_, err = f.line.ClosePackLot(t.Context(), &inventoryv1.ClosePackLotRequest{RequestId: request(), Name: lot.GetName(), Jars: 698, MeanNet: lb("1.0")})
	require.NoError(t, err)
	asked, err := wh.RequestWriteOff(t.Context(), jars)
	require.NoError(t, err, "a refusal is not remembered as an answer")
	require.Equal(t, []string{"10.0", "698.0"}, []string{asked.GetMass().GetValue(), asked.GetHeldWhenAsked().GetValue()})
	_, err = wh.RequestWriteOff(t.Context(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: lot.GetName(), Jars: 689, Reason: "not on the shelf"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "1", "asked": "10"})
	require.ErrorContains(t, err, "lot "+lot.GetCode()+" holds 698 loose jars by the books, of which 10 jars are asked to be written off already and not decided: 1 jar too much is asked for")
	stacked, err := f.packing("line1", line).BuildPallet(t.Context(), &inventoryv1.BuildPalletRequest{RequestId: request(), Lines: []*inventoryv1.PalletLine{{PackLot: lot.GetName(), Jars: 690}}})
	require.NoError(t, err)
	_, err = f.decide("office1", asked, approved, "")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"difference": "2"})
	_, err = f.packing("line1", line).BreakPallet(t.Context(), &inventoryv1.BreakPalletRequest{RequestId: request(), Name: stacked.GetName(), Reason: "count it"})
	require.NoError(t, err)
	_, err = f.decide("office1", asked, approved, "")
	require.NoError(t, err)
	left, err := f.line.GetPackLot(t.Context(), &inventoryv1.GetPackLotRequest{Name: lot.GetName()})
	require.NoError(t, err)
	require.Equal(t, int64(688), left.GetJarsOnHand())
	require.Equal(t, "552.0", f.balanced().GetLosses()[0].GetMass().GetValue(), "540, 2 and 10 lb, all UNEXPLAINED")
}

// Approved by many at once, a write-off is booked once; while the barrel is drained under it, either the honey is used or written off.
func TestAWriteOffIsDecidedOnceWhoeverElseIsAtIt(t *testing.T) {
	t.Parallel()
	f := openFloor(t)
	c := f.charge("T1", "0")
	for n := 1; n <= 6; n++ {
		o := f.missing(item(n), "640.0")
		var wg sync.WaitGroup
		var mu sync.Mutex
		answers := map[string]int{}
		note := func(who string, err error) {
			mu.Lock()
			defer mu.Unlock()
			if err == nil {
				answers[who]++
				return
			}
			require.Contains(t, []string{"STATE_FORBIDS", "TOTAL_DISAGREES"}, apierr.Parse(err).Reason, err)
		}
		for _, login := range []string{"office1", "office2", "office3"} {
			wg.Go(func() {
				_, err := f.decide(login, o, approved, "")
				note("approved", err)
			})
		}
		wg.Go(func() {
			_, err := f.decide("office4", o, declined, "looked again")
			note("declined", err)
		})
		wg.Go(func() {
			_, err := f.wh.FillCharge(context.Background(), &inventoryv1.FillChargeRequest{RequestId: request(), Name: c.GetName(), StockItem: item(n), Mass: lb("639.9"), Drained: true})
			note("used", err)
		})
		wg.Wait()
		require.LessOrEqual(t, answers["approved"]+answers["declined"], 1, answers)
		require.Equal(t, 1, answers["approved"]+answers["used"], "all of it went one way: %v", answers)
		left, err := f.wh.GetStockItem(t.Context(), &inventoryv1.GetStockItemRequest{Name: item(n)})
		require.NoError(t, err)
		require.Equal(t, "0.0", left.GetRemaining().GetValue())
		f.balanced()
	}
	f.deliver(200, 1)
	var wg sync.WaitGroup
	asked := make(chan error, 8)
	for range 8 {
		wg.Go(func() {
			_, err := f.offs("wh1", warehouse).RequestWriteOff(context.Background(), &inventoryv1.RequestWriteOffRequest{RequestId: request(), From: item(200), Mass: lb("200.0"), Reason: "the drum is light"})
			asked <- err
		})
	}
	wg.Wait()
	close(asked)
	taken := 0
	for err := range asked {
		if err == nil {
			taken++
			continue
		}
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_TOTAL_DISAGREES, map[string]string{"resource": item(200)})
	}
	require.Equal(t, 3, taken, "of 640 lb, 200 are missing three times at most")
}
