package settlement_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
)

func usd(amount string) *typev1.Money { return &typev1.Money{Amount: amount, CurrencyCode: "USD"} }

func tablePool() *settlementv1.Pool {
	row := func(color, amount string) *settlementv1.Differential {
		return &settlementv1.Differential{ColorClass: color, Grade: "A", Amount: perPound(amount)}
	}
	return &settlementv1.Pool{CropYear: 2026, Title: "Table honey 2026", Differentials: []*settlementv1.Differential{
		row("WHITE", "0.05"), row("EXTRA_LIGHT_AMBER", "0.00"), row("LIGHT_AMBER", "-0.12"), row("AMBER", "-0.25"),
	}}
}

// market is a pool with honey of two members: three barrels of the one as in the worked example, one of the other.
type market struct {
	*house
	as   func(access.Actor) client
	pool *settlementv1.Pool
}

func openMarket(t *testing.T) *market {
	h := open(t)
	h.adopt(prices("2026-07-01"))
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(member("M-0002", "Three Oaks Honey"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "642.5", "clover"}, barrelOf{"FC-2", "638.0", "clover"}, barrelOf{"FC-3", "645.0", "clover"})))
	h.take(closed(ticket("FC-2026-000002", "M-0002", barrelOf{"FC-4", "640.0", "clover"})))
	for i, c := range [][2]string{{"17.4", "WHITE"}, {"18.9", "EXTRA_LIGHT_AMBER"}, {"19.2", "LIGHT_AMBER"}, {"17.0", "WHITE"}} {
		tag := []string{"FC-1", "FC-2", "FC-3", "FC-4"}[i]
		h.take(sampled(tag))
		h.take(graded(tag, 1, c[0], c[1], "A"))
	}
	m := &market{house: h, as: h.serve()}
	m.pool = poolOf(m)
	return m
}

func poolOf(m *market) *settlementv1.Pool {
	p, err := m.as(office).OpenPool(m.t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: tablePool()})
	require.NoError(m.t, err)
	return p
}

func (m *market) enter(kind settlementv1.PoolEntryKind, amount string) error {
	_, err := m.as(office).RecordPoolEntry(m.t.Context(), &settlementv1.RecordPoolEntryRequest{
		RequestId: uuid.NewString(), Pool: m.pool.GetName(),
		Entry: &settlementv1.PoolEntry{Kind: kind, Amount: usd(amount), Description: "Sales of the season", Document: "Invoice 2027-114", EntryDate: "2027-05-31"},
	})
	return err
}

func (m *market) sells(amount string) {
	require.NoError(m.t, m.enter(settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, amount))
}

func (m *market) spends(amount string) {
	require.NoError(m.t, m.enter(settlementv1.PoolEntryKind_POOL_ENTRY_KIND_EXPENSE, amount))
}

func (m *market) prepare() *settlementv1.Run {
	r, err := m.as(office).PrepareRun(m.t.Context(), &settlementv1.PrepareRunRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()})
	require.NoError(m.t, err)
	return r
}

func (m *market) approve(who access.Actor, r *settlementv1.Run) (*settlementv1.Run, error) {
	return m.as(who).ApproveRun(m.t.Context(), &settlementv1.ApproveRunRequest{
		RequestId: uuid.NewString(), Name: r.GetName(), Fingerprint: r.GetFingerprint(), Minutes: "Board 2027-08-02 no. 1",
	})
}

func (m *market) release(who access.Actor, r *settlementv1.Run) (*settlementv1.Run, error) {
	return m.as(who).ReleaseRun(m.t.Context(), &settlementv1.ReleaseRunRequest{RequestId: uuid.NewString(), Name: r.GetName(), Fingerprint: r.GetFingerprint()})
}

func (m *market) settled() *settlementv1.Run {
	r := m.prepare()
	_, err := m.approve(board, r)
	require.NoError(m.t, err)
	r, err = m.release(treasurer, r)
	require.NoError(m.t, err)
	return r
}

func TestPoolFromOpeningToFinals(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	m.spends("600.00")
	p, err := m.as(auditor).GetPool(t.Context(), &settlementv1.GetPoolRequest{Name: m.pool.GetName()})
	require.NoError(t, err)
	require.Equal(t, "4900.00", p.GetDistributable().GetAmount())

	r := m.prepare()
	require.Equal(t, "R-2026-01", r.GetNumber())
	require.Equal(t, settlementv1.RunState_RUN_STATE_PREPARED, r.GetState())
	require.Len(t, r.GetFingerprint(), 64)
	// (4,900.00 − 1,282.5 × 0.05 + 640.2 × 0.12) ÷ 2,558.3 lb = 1.920298…
	require.Equal(t, "1.92029", r.GetBasePrice().GetAmount())
	require.Equal(t, "2558.3", r.GetPayable().GetValue())
	require.Equal(t, "0.01", r.GetResidual().GetAmount())
	require.Equal(t, "4899.99", r.GetToMembers().GetAmount())
	require.Contains(t, r.GetHeadline(), "of $4,900.00 there is to distribute, $4,899.99 goes to 2 members and $0.01 is left over")

	approved, err := m.approve(board, r)
	require.NoError(t, err)
	require.Equal(t, settlementv1.RunState_RUN_STATE_APPROVED, approved.GetState())
	released, err := m.release(treasurer, r)
	require.NoError(t, err)
	require.Equal(t, settlementv1.RunState_RUN_STATE_RELEASED, released.GetState())

	parts, err := m.as(board).ListRunMembers(t.Context(), &settlementv1.ListRunMembersRequest{Run: r.GetName()})
	require.NoError(t, err)
	require.Len(t, parts.GetRunMembers(), 2)
	first := parts.GetRunMembers()[0]
	final := m.payouts("M-0001")[2]
	require.Equal(t, settlementv1.PayoutKind_PAYOUT_KIND_FINAL, final.GetKind())
	require.Equal(t, r.GetName(), final.GetRun())
	require.Equal(t, "642.5 lb × $1.97029 = $1,265.91", final.GetLines()[0].GetExplanation().GetCalculation())
	require.Equal(t, "-738.88", final.GetLines()[1].GetAmount().GetAmount())
	require.Equal(t, "Barrel FC-1 is worth $1,265.91 at the pool's price, and $738.88 was credited before: $527.03 more is yours.", final.GetHeadline())
	total := m.total("M-0001")
	require.Equal(t, first.GetValue().GetAmount(), total.GetGrossAmount().GetAmount(), "advance and final together are the value")
	require.Equal(t, "-96.07", total.GetDeductions().GetAmount())
	require.Equal(t, int32(3), total.GetPricedBarrels())
}

func TestThreePersonsSettle(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.prepare()
	_, err := m.release(treasurer, r)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "PREPARED"})
	preparer := board
	preparer.Login = office.Login
	_, err = m.approve(preparer, r)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": office.Login})
	_, err = m.approve(board, r)
	require.NoError(t, err)
	_, err = m.approve(board, r)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "VOTED"})
	for _, login := range []string{office.Login, board.Login} {
		same := treasurer
		same.Login = login
		_, err = m.release(same, r)
		rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": login})
	}
	_, err = m.release(treasurer, r)
	require.NoError(t, err)
	_, err = m.release(treasurer, r)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RELEASED"})
	require.Len(t, m.payouts("M-0002"), 2)
}

func TestDirectorsWithHoneyInItAbstain(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.prepare()
	interested := board
	interested.Login, interested.Member = "users/board2", "members/M-0002"
	_, err := m.approve(interested, r)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "INTERESTED"})
	abstained, err := m.as(interested).AbstainFromRun(t.Context(), &settlementv1.AbstainFromRunRequest{
		RequestId: uuid.NewString(), Name: r.GetName(), Minutes: "Board 2027-08-02 no. 1",
	})
	require.NoError(t, err)
	require.Equal(t, settlementv1.RunState_RUN_STATE_PREPARED, abstained.GetState(), "an abstention approves nothing")
	approved, err := m.approve(board, r)
	require.NoError(t, err)
	require.Len(t, approved.GetVotes(), 2)
	require.True(t, approved.GetVotes()[0].GetAbstained())
}

// Whatever changes after the calculation, the approval does not cover it.
func TestAnyChangedInputVoidsTheApproval(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(m *market){
		"another sale":        func(m *market) { m.sells("0.01") },
		"a corrected expense": func(m *market) { m.spends("-0.01") },
		"a replaced grade":    func(m *market) { m.take(graded("FC-4", 2, "17.1", "WHITE", "A")) },
		"a reissued ticket": func(m *market) {
			m.take(&intakev1.TicketReissued{OldTicket: ticket("FC-2026-000002", "M-0002"), NewTicket: ticket("FC-2026-000009", "M-0001", barrelOf{"FC-4", "640.0", "clover"})})
		},
		"a barrel that arrives": func(m *market) {
			m.take(closed(ticket("FC-2026-000010", "M-0002", barrelOf{"FC-10", "640.0", "clover"})))
		},
		"a class without price": func(m *market) {
			m.take(closed(ticket("FC-2026-000010", "M-0002", barrelOf{"FC-10", "640.0", "clover"})))
			m.take(sampled("FC-10"))
			dark := prices("2026-08-01")
			dark.Rows = []*settlementv1.PriceRow{{ColorClass: "DARK_AMBER", Grade: "C", Advance: perPound("0.40")}}
			m.adopt(dark)
			m.take(graded("FC-10", 1, "17.0", "DARK_AMBER", "C"))
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			m := openMarket(t)
			m.sells("5500.00")
			r := m.prepare()
			_, err := m.approve(board, r)
			require.NoError(t, err)
			change(m)
			_, err = m.release(treasurer, r)
			rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OUTDATED"})
			read, err := m.as(board).GetRun(t.Context(), &settlementv1.GetRunRequest{Name: r.GetName()})
			require.NoError(t, err)
			require.Equal(t, settlementv1.RunState_RUN_STATE_OUTDATED, read.GetState())
		})
	}
}

func TestTwoRunsCompared(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	first := m.prepare()
	ask := &settlementv1.CompareRunsRequest{Name: first.GetName()}
	_, err := m.as(board).CompareRuns(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "FIRST"})
	m.spends("600.00")
	m.take(graded("FC-4", 2, "19.2", "WHITE", "A"))
	ask.Name = m.prepare().GetName()
	c, err := m.as(board).CompareRuns(t.Context(), ask)
	require.NoError(t, err)
	require.Equal(t, first.GetName(), c.GetBase())
	list, err := m.as(auditor).ListRuns(t.Context(), &settlementv1.ListRunsRequest{Pool: m.pool.GetName(), PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, ask.GetName(), list.GetRuns()[0].GetName())
	require.Equal(t, settlementv1.RunState_RUN_STATE_PREPARED, list.GetRuns()[0].GetState())
	list, err = m.as(auditor).ListRuns(t.Context(), &settlementv1.ListRunsRequest{Pool: m.pool.GetName(), PageSize: 1, PageToken: list.GetNextPageToken()})
	require.NoError(t, err)
	require.Equal(t, settlementv1.RunState_RUN_STATE_OUTDATED, list.GetRuns()[0].GetState())
	require.Empty(t, list.GetNextPageToken())
	ask.Base = "runs/" + uuid.NewString()
	_, err = m.as(board).CompareRuns(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	causes, titles := map[string]string{}, map[string]string{}
	for _, change := range c.GetChanges() {
		kind, _, _ := strings.Cut(change.GetSubject(), "/")
		causes[kind], titles[kind] = change.GetCause(), change.GetTitle()
	}
	require.Len(t, causes, 3)
	require.Equal(t, "entered", causes["poolEntries"])
	require.Equal(t, "635.3 lb is paid for and not 640.0 lb: its certificate or ticket was replaced", causes["barrels"])
	require.Equal(t, map[string]string{"barrels": "barrel FC-4 of M-0002, ticket FC-2026-000002", "poolEntries": "Sales of the season (Invoice 2027-114)", "base price": "base price"}, titles)
	require.Len(t, c.GetMembers(), 2)
}

func TestAnotherFingerprintIsRefused(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.prepare()
	r.Fingerprint = strings.Repeat("0", 64)
	_, err := m.approve(board, r)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "OTHER_FINGERPRINT"})
	r.Fingerprint = "9F3C"
	_, err = m.approve(board, r)
	rpctest.Faults(t, err, "fingerprint")
}

func TestClosedPoolNeverChanges(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.settled()
	rpctest.RefusedAs(t, m.enter(settlementv1.PoolEntryKind_POOL_ENTRY_KIND_PROCEEDS, "1.00"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
	_, err := m.as(office).PrepareRun(t.Context(), &settlementv1.PrepareRunRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CLOSED"})
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.True(t, verified.GetIdentical(), verified.GetFinding())
}

// A ticket replaced after the closing: the old owner's advance and final are taken back, the new owner gets both at the very
// same prices, and the run stays as it was.
func TestCorrectionAfterTheClosing(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.settled()
	old := m.total("M-0002").GetNetAmount().GetAmount()
	m.take(&intakev1.TicketReissued{OldTicket: ticket("FC-2026-000002", "M-0002"), NewTicket: ticket("FC-2026-000009", "M-0003", barrelOf{"FC-4", "640.0", "clover"})})
	m.take(member("M-0003", "Hollow Oak Bees"))
	require.Equal(t, "0.00", m.total("M-0002").GetNetAmount().GetAmount())
	require.Equal(t, old, m.total("M-0003").GetNetAmount().GetAmount())
	require.Len(t, m.payouts("M-0002"), 4)
	require.Len(t, m.payouts("M-0003"), 2)
	again, err := m.as(auditor).GetRun(t.Context(), &settlementv1.GetRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.Equal(t, r.String(), again.String())
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.True(t, verified.GetIdentical())
	m.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000009", "M-0003")})
	require.Equal(t, "0.00", m.total("M-0003").GetNetAmount().GetAmount())
}

// What comes too late for a closing has its advance, and gets its final from another pool of the same year.
func TestLateBarrelsAreSettledByAnotherPool(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	first := m.settled()
	m.take(closed(ticket("FC-2026-000010", "M-0002", barrelOf{"FC-10", "640.0", "clover"})))
	m.take(sampled("FC-10"))
	m.take(graded("FC-10", 1, "17.0", "WHITE", "A"))
	late := tablePool()
	late.Title = "Late honey 2026"
	var err error
	m.pool, err = m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: late})
	require.NoError(t, err)
	m.sells("1000.00")
	second := m.settled()
	require.Equal(t, "R-2026-02", second.GetNumber())
	require.Equal(t, int32(1), second.GetBarrels())
	require.Equal(t, "1.5125", second.GetBasePrice().GetAmount())
	m.take(graded("FC-10", 2, "19.2", "WHITE", "A"))
	m.take(graded("FC-4", 2, "19.2", "WHITE", "A"))
	for _, p := range m.payouts("M-0002")[:6] {
		if p.GetKind() == settlementv1.PayoutKind_PAYOUT_KIND_FINAL {
			want := map[string]string{"FC-10": second.GetName(), "FC-4": first.GetName()}[p.GetDrumTag()]
			require.Equal(t, want, p.GetRun(), "a correction uses the prices of the run it corrects")
		}
	}
	require.NotEmpty(t, m.balances())
}

func TestTamperedRunIsFound(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("5500.00")
	r := m.settled()
	m.asOwner(`UPDATE run_piece SET payable = array_replace(payable, 642500, 642600)`)
	verified, err := m.as(auditor).VerifyRun(t.Context(), &settlementv1.VerifyRunRequest{Name: r.GetName()})
	require.NoError(t, err)
	require.False(t, verified.GetIdentical())
	require.Contains(t, verified.GetFinding(), "they were changed")
}

func TestOverAdvanceIsCarried(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	m.sells("2500.00")
	r := m.settled()
	require.Equal(t, "0.00", r.GetDue().GetAmount())
	require.NotEqual(t, "0.00", r.GetReceivable().GetAmount())
	final := m.payouts("M-0002")[0]
	require.Contains(t, final.GetHeadline(), "You owe it; it is carried forward, and nothing is collected by surprise.")
	require.Equal(t, byte('-'), final.GetNetAmount().GetAmount()[0])
}

func TestPoolsTakeDifferentHoney(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	_, err := m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: tablePool()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": m.pool.GetName()})
	special := tablePool()
	special.Title, special.Varieties = "Clover 2026", []string{"clover"}
	clover, err := m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: special})
	require.NoError(t, err)
	m.sells("5500.00")
	_, err = m.as(office).PrepareRun(t.Context(), &settlementv1.PrepareRunRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NO_HONEY"})
	list, err := m.as(board).ListPools(t.Context(), &settlementv1.ListPoolsRequest{PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, clover.GetName(), list.GetPools()[0].GetName())
	require.NotEmpty(t, list.GetNextPageToken())
	entries, err := m.as(board).ListPoolEntries(t.Context(), &settlementv1.ListPoolEntriesRequest{Pool: m.pool.GetName()})
	require.NoError(t, err)
	require.Equal(t, "5500.00", entries.GetEntries()[0].GetAmount().GetAmount())
	require.Equal(t, office.Login, entries.GetEntries()[0].GetRecorder())
}

func TestFaultsOfPoolsAndEntries(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	bad := tablePool()
	bad.CropYear, bad.Title, bad.Varieties = 1999, "", []string{"Clover"}
	bad.Differentials[0].Amount.Amount = "0.000001"
	bad.Differentials[1].Grade = "Z"
	bad.Differentials[3] = bad.GetDifferentials()[2]
	_, err := m.as(office).OpenPool(t.Context(), &settlementv1.OpenPoolRequest{RequestId: uuid.NewString(), Pool: bad})
	rpctest.Faults(t, err, "pool.crop_year", "pool.title", "pool.varieties[0]", "pool.differentials[0].amount", "pool.differentials[1].grade", "pool.differentials[3]")
	_, err = m.as(office).RecordPoolEntry(t.Context(), &settlementv1.RecordPoolEntryRequest{RequestId: uuid.NewString(), Pool: m.pool.GetName(), Entry: &settlementv1.PoolEntry{}})
	rpctest.Faults(t, err, "entry.kind", "entry.amount", "entry.description", "entry.document", "entry.entry_date")
}

func TestEstimateIsTheEngine(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	ask := &settlementv1.EstimatePayoutRequest{
		Variety: "clover", CropYear: 2026, DeliveryDate: "2026-09-14", Net: lb("645.0"), MoisturePercent: "19.2", ColorClass: "LIGHT_AMBER", Grade: "A",
	}
	priced := m.payouts("M-0001")[0]
	got, err := m.as(rpctest.Member("M-0002")).EstimatePayout(t.Context(), ask)
	require.NoError(t, err)
	require.Len(t, got.GetLines(), len(priced.GetLines()))
	for i, l := range got.GetLines() {
		require.Equal(t, priced.GetLines()[i].GetAmount().GetAmount(), l.GetAmount().GetAmount())
		require.Equal(t, priced.GetLines()[i].GetExplanation().GetCalculation(), l.GetExplanation().GetCalculation())
	}
	require.Empty(t, got.GetName())

	draft := prices("2026-08-01")
	draft.Rows[2].Advance = perPound("1.50")
	ask.Schedule = m.draft(draft).GetName()
	_, err = m.as(rpctest.Member("M-0002")).EstimatePayout(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	got, err = m.as(board).EstimatePayout(t.Context(), ask)
	require.NoError(t, err)
	require.Equal(t, "960.30", got.GetGrossAmount().GetAmount())
	ask.Schedule, ask.Grade = "", "C"
	_, err = m.as(board).EstimatePayout(t.Context(), ask)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NO_PRICE"})
	ask.MoisturePercent, ask.DeliveryDate, ask.Net = "26", "tomorrow", lb("0")
	_, err = m.as(board).EstimatePayout(t.Context(), ask)
	rpctest.Faults(t, err, "moisture_percent", "delivery_date", "net")
	require.Len(t, m.payouts("M-0002"), 1, "an estimate stores nothing")
}
