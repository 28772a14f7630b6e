package settlement_test

import (
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/rpctest"
)

func TestChargesAreSignedForAndNobodysOwn(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	c := m.charge("M-0001", "-30.00")
	require.Equal(t, "-1939.37", m.balances()["liabilities:members:M-0001"])
	require.Equal(t, "-30.00", m.balances()["income:charges:CONTAINER"])
	m.charge("M-0001", "30.00")
	require.NotContains(t, m.balances(), "income:charges:CONTAINER", "a deposit given back nets to nothing")
	own := office
	own.Member = "members/M-0001"
	_, err := m.as(own).ChargeMember(t.Context(), &settlementv1.ChargeMemberRequest{RequestId: uuid.NewString(), Charge: c})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "INTERESTED"})
	_, err = m.as(office).ChargeMember(t.Context(), &settlementv1.ChargeMemberRequest{RequestId: uuid.NewString(), Charge: &settlementv1.MemberCharge{
		Member: "members/M-0001", Amount: usd("0.00"), EntryDate: "2026-09-21",
	}})
	rpctest.Faults(t, err, "charge.kind", "charge.amount", "charge.description", "charge.authority", "charge.entry_date")
	mine, err := m.as(rpctest.Member("M-0002")).ListMemberCharges(t.Context(), &settlementv1.ListMemberChargesRequest{})
	require.NoError(t, err)
	require.Empty(t, mine.GetCharges())
	_, err = m.as(rpctest.Member("M-0002")).ListMemberCharges(t.Context(), &settlementv1.ListMemberChargesRequest{Member: "members/M-0001"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": "members/M-0001"})
}

// The dock says what a move of containers does to the deposits; here it becomes a charge, once, and is given back to the cent.
func TestDepositsFollowTheContainers(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	moved := func(id string, kind intakev1.ContainerMoveKind, deposit string) *intakev1.ContainersMoved {
		return &intakev1.ContainersMoved{Move: &intakev1.ContainerMove{
			Name: "members/M-0001/containerMoves/" + id, Member: "members/M-0001", Container: intakev1.Container_CONTAINER_STEEL_OPEN_HEAD, Kind: kind, Count: 4,
			Recorder: "users/dock1", MoveTime: timestamppb.New(harvest), Deposit: usd(deposit),
		}}
	}
	m.take(moved("1", intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, "100.00"))
	m.take(moved("2", intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_LOST, "0.00"))
	require.Equal(t, "-1869.37", m.balances()["liabilities:members:M-0001"])
	require.Error(t, m.tryTake(moved("1", intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_GIVEN_OUT, "100.00")), "one move, one charge")
	list, err := m.as(rpctest.Member("M-0001")).ListMemberCharges(t.Context(), &settlementv1.ListMemberChargesRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetCharges(), 1)
	require.Equal(t, "Deposit for 4 containers handed out (steel open head)", list.GetCharges()[0].GetDescription())
	m.take(moved("3", intakev1.ContainerMoveKind_CONTAINER_MOVE_KIND_BACK_FULL, "-100.00"))
	require.Equal(t, "-1969.37", m.balances()["liabilities:members:M-0001"])
}

func TestHaulingByZoneIsSharedToTheCent(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	rate := func(zone, from, rate string) error {
		_, err := m.as(board).SetHaulingRate(t.Context(), &settlementv1.SetHaulingRateRequest{RequestId: uuid.NewString(), HaulingRate: &settlementv1.HaulingRate{
			Zone: zone, EffectiveDate: from, Rate: perPound(rate), Resolution: "Board 2026-06-14 no. 5",
		}})
		return err
	}
	haul := func(ticket, zone string) (*settlementv1.ChargeHaulingResponse, error) {
		return m.as(office).ChargeHauling(t.Context(), &settlementv1.ChargeHaulingRequest{RequestId: uuid.NewString(), TicketNumber: ticket, Zone: zone})
	}
	require.NoError(t, rate("B", "2026-07-01", "0.01"))
	require.NoError(t, rate("B", "2026-09-01", "0.0201"))
	require.NoError(t, rate("B", "2026-10-01", "0.05"))
	rpctest.RefusedAs(t, rate("B", "2026-10-01", "0.06"), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "RATED"})
	_, err := haul("FC-2026-000001", "B")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "IN_SCHEDULE"})
	shared := ticket("FC-2026-000077", "M-0001", barrelOf{"FC-77", "641.0", "clover"})
	shared.Owners = []*intakev1.OwnerShare{{Member: "members/M-0001", SharePercent: "50"}, {Member: "members/M-0002", SharePercent: "50"}}
	m.take(closed(shared))
	_, err = haul("FC-2026-000077", "C")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NO_RATE"})
	got, err := haul("FC-2026-000077", "B")
	require.NoError(t, err)
	require.Equal(t, "-12.88", got.GetTotal().GetAmount(), "641.0 × 0.0201 = 12.8841, at the rate of the delivery's day")
	require.Equal(t, []string{"-6.44", "-6.44"}, []string{got.GetCharges()[0].GetAmount().GetAmount(), got.GetCharges()[1].GetAmount().GetAmount()})
	require.Contains(t, got.GetCharges()[1].GetCalculation(), "641.0 lb × $0.0201 = $12.88")
	_, err = haul("FC-2026-000077", "B")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "CHARGED"})
	_, err = haul("FC-2026-009999", "B")
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
}

// 2558.3 lb were delivered in September and nothing of the assessment was passed on.
func TestTheAssessmentIsTheHandlers(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	a, err := m.as(auditor).GetAssessment(t.Context(), &settlementv1.GetAssessmentRequest{Month: "2026-09"})
	require.NoError(t, err)
	require.Equal(t, "2565.5", a.GetHandled().GetValue())
	require.Equal(t, "38.48", a.GetAmount().GetAmount(), "2565.5 × 0.015 = 38.4825")
	require.Equal(t, "2026-10-15", a.GetDueDate())
	require.True(t, a.GetMayBeExempt())
	require.Equal(t, "0.00", a.GetPassedOn().GetAmount())
	require.Contains(t, a.GetHeadline(), "The cooperative bears the assessment")
	require.Contains(t, a.GetRateSource(), "80 FR 22361")
	_, err = m.as(auditor).GetAssessment(t.Context(), &settlementv1.GetAssessmentRequest{Month: "September"})
	rpctest.Faults(t, err, "month")
}

func (m *market) designate(year int32, qualified bool, consent string) error {
	_, err := m.as(board).DesignateRetains(m.t.Context(), &settlementv1.DesignateRetainsRequest{
		RequestId: uuid.NewString(), CropYear: year, Qualified: qualified, Consent: consent, Resolution: "Board 2026-11-02 no. 1",
	})
	return err
}

func (m *market) refund(total, percent string, qualified bool) (*settlementv1.PatronageRefund, error) {
	return m.as(board).AllocatePatronage(m.t.Context(), &settlementv1.AllocatePatronageRequest{
		RequestId: uuid.NewString(), CropYear: 2026, FiscalYearEnd: "2026-08-31", Total: usd(total), CashPercent: percent, Qualified: qualified,
		Consent: "Bylaws, article 9, given to every member on joining", Resolution: "Annual meeting 2026, resolution 2",
	})
}

// The refund of 100.01 is shared by 736.00 and 738.88 of honey; a fifth of each, up to the cent, is money.
func TestClassesOfCapitalAndTheYearsBoxes(t *testing.T) {
	t.Parallel()
	m := retaining(t)
	require.NoError(t, m.designate(2025, false, ""))
	rpctest.Faults(t, m.designate(2026, true, " "), "consent")
	require.NoError(t, m.designate(2026, true, "Marketing agreement, article 12"))
	rpctest.RefusedAs(t, m.designate(2026, false, ""), errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "DESIGNATED"})
	_, err := m.refund("100.01", "19.99", true)
	rpctest.Faults(t, err, "cash_percent")
	r, err := m.refund("100.01", "20", true)
	require.NoError(t, err)
	require.Equal(t, []string{"20.01", "80.00"}, []string{r.GetCash().GetAmount(), r.GetNotices().GetAmount()}, "9.99 of 49.91 and 10.02 of 50.10")
	require.Equal(t, "2027-05-15", r.GetPaymentPeriodEnd())
	require.Equal(t, "100.01", m.balances()["equity:earnings"])
	_, err = m.as(board).RedeemEquity(t.Context(), redeem(2025, "100"))
	require.NoError(t, err)
	var got []string
	for _, l := range m.equity("M-0001").GetLots() {
		got = append(got, strings.TrimPrefix(l.GetEquityClass().String(), "EQUITY_CLASS_")+" "+l.GetIssued().GetAmount()+" "+l.GetBalance().GetAmount())
	}
	require.Equal(t, []string{"RETAIN_NONQUALIFIED 19.20 0.00", "RETAIN_QUALIFIED 19.20 19.20", "PATRONAGE_QUALIFIED 39.92 39.92"}, got)

	record, err := m.as(rpctest.Member("M-0001")).GetTaxRecord(t.Context(), &settlementv1.GetTaxRecordRequest{Member: "members/M-0001", Year: 2026})
	require.NoError(t, err)
	boxes := map[int32]string{}
	for _, b := range record.GetBoxes() {
		boxes[b.GetBox()] = b.GetAmount().GetAmount()
	}
	require.Equal(t, map[int32]string{1: "49.91", 2: "0.00", 3: "19.20", 4: "0.00", 5: "19.20", 6: "0.00", 7: "0.00", 8: "0.00", 9: "0.00"}, boxes)
	require.Equal(t, "1408.00", record.GetPoolPayments().GetAmount(), "two barrels of 640.0 lb at 1.15 − 0.02 − 0.03")
	require.True(t, record.GetMustFile())
	require.Empty(t, record.GetFindings())
	require.Contains(t, record.GetCaution(), "not tax advice")
	_, err = m.as(rpctest.Member("M-0001")).GetTaxRecord(t.Context(), &settlementv1.GetTaxRecordRequest{Member: "members/M-0002", Year: 2026})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)
	m.taxFiles()
	hledger(t, m.journal(&settlementv1.ExportJournalRequest{}), "check")
}

// taxFiles compares the list, the CSV and the paper with one another.
func (m *market) taxFiles() {
	m.t.Helper()
	list, err := m.as(auditor).ListTaxRecords(m.t.Context(), &settlementv1.ListTaxRecordsRequest{Year: 2026})
	require.NoError(m.t, err)
	require.Equal(m.t, "2027-01-31", list.GetStatementDueDate())
	require.Equal(m.t, "100.01", list.GetTotals()[0].GetAmount().GetAmount(), "box 1 is the whole refund")
	file, err := m.as(auditor).ExportTaxRecords(m.t.Context(), &settlementv1.ExportTaxRecordsRequest{Year: 2026})
	require.NoError(m.t, err)
	rows, err := csv.NewReader(strings.NewReader(string(file.GetContent()))).ReadAll()
	require.NoError(m.t, err)
	require.Len(m.t, rows, 1+len(list.GetTaxRecords()))
	require.Equal(m.t, []string{"M-0001", "Orchard Hill Apiary", "2026", "49.91", "0.00", "19.20", "0.00", "19.20"}, rows[1][:8])
	paper, err := m.as(rpctest.Member("M-0001")).RenderTaxRecord(m.t.Context(), &settlementv1.RenderTaxRecordRequest{Member: "members/M-0001", Year: 2026})
	require.NoError(m.t, err)
	text := pdfText(m.t, paper.GetContent())
	for _, b := range list.GetTaxRecords()[0].GetBoxes() {
		require.Contains(m.t, text, b.GetTitle())
		require.Contains(m.t, text, b.GetAmount().GetAmount()+" USD")
		require.Contains(m.t, text, b.GetExplanation())
	}
	require.Contains(m.t, text, "They are not tax advice, and no form was filed")
}

func heir(number, name, percent string) *settlementv1.Encumbrance {
	return &settlementv1.Encumbrance{
		Member: "members/" + number, Kind: settlementv1.EncumbranceKind_ENCUMBRANCE_KIND_HEIR, Creditor: name, Percent: percent,
		Document: "Letters of administration", ReceiveDate: "2026-09-20",
	}
}

// An estate's equity comes before its turn, its money goes to the heirs, and the year's forms by payee.
func TestAnEstate(t *testing.T) {
	t.Parallel()
	m := retaining(t)
	estate := redeem(2026, "100")
	estate.Estate = "members/M-0001"
	_, err := m.as(board).RedeemEquity(t.Context(), estate)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "NO_ESTATE"})
	daughter, son := m.notice(heir("M-0001", "Daughter of the estate", "60")), m.notice(heir("M-0001", "Son of the estate", "30"))
	r, err := m.as(board).RedeemEquity(t.Context(), estate)
	require.NoError(t, err)
	require.Equal(t, "19.20", r.GetTotal().GetAmount(), "only the estate's, though 2025 is older")
	require.Equal(t, int32(1), r.GetMembers())
	m.bank()
	for _, h := range []*settlementv1.Encumbrance{daughter, son} {
		require.NoError(t, m.verify(treasurer, m.account(h.GetName(), "021000021")))
	}
	m.clk.Advance(11 * 24 * time.Hour)
	pay := func() *settlementv1.PaymentBatch {
		b, err := m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-10-20"})
		require.NoError(t, err)
		return b
	}
	require.Contains(t, pay().GetBlocked()[0].GetReason(), "the shares of the heirs come to 90.0 % and not to 100")
	third := m.notice(heir("M-0001", "Widow of the estate", "10"))
	require.NoError(t, m.verify(treasurer, m.account(third.GetName(), "021000021")))
	m.clk.Advance(7 * 24 * time.Hour)
	b, err := m.as(office).PreparePayments(t.Context(), &settlementv1.PreparePaymentsRequest{RequestId: uuid.NewString(), PayDate: "2026-10-30"})
	require.NoError(t, err)
	released, err := m.payOut(treasurer, b)
	require.NoError(t, err)
	var got []string
	for _, p := range released.GetPayments()[:3] {
		got = append(got, p.GetAmount().GetAmount())
	}
	require.ElementsMatch(t, []string{"856.32", "428.16", "142.72"}, got, "60, 30 and 10 percent of 1408.00 + 19.20")
	record, err := m.as(office).GetTaxRecord(t.Context(), &settlementv1.GetTaxRecordRequest{Member: "members/M-0001", Year: 2026})
	require.NoError(t, err)
	require.Len(t, record.GetPayees(), 3)
	require.Equal(t, "heir", record.GetPayees()[0].GetRight())
	require.Len(t, record.GetFindings(), 3, "the board has designated no crop year: retained twice and given back once")
}

func (m *market) ask(who access.Actor, payout string, line int32) (*settlementv1.Dispute, error) {
	return m.as(who).OpenDispute(m.t.Context(), &settlementv1.OpenDisputeRequest{RequestId: uuid.NewString(), Payout: payout, Line: line, Question: "My own refractometer said 18.4"})
}

func TestAQuestionReachesTheOfficeAndIsAnswered(t *testing.T) {
	t.Parallel()
	m := openMarket(t)
	docked := m.payouts("M-0001")[0]
	mine := rpctest.Member("M-0001")
	_, err := m.ask(rpctest.Member("M-0002"), docked.GetName(), 1)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": docked.GetName()})
	_, err = m.ask(mine, docked.GetName(), 9)
	rpctest.Faults(t, err, "line")
	d, err := m.ask(mine, docked.GetName(), 1)
	require.NoError(t, err)
	require.Equal(t, "D-2026-001", d.GetNumber())
	require.Equal(t, "We have your question and answer it by 2026-10-04.", d.GetHeadline())
	inbox := func() []*settlementv1.Dispute {
		out, err := m.as(office).ListDisputes(t.Context(), &settlementv1.ListDisputesRequest{OpenOnly: true})
		require.NoError(t, err)
		return out.GetDisputes()
	}
	require.Len(t, inbox(), 1)
	require.Equal(t, docked.GetLines()[0].String(), inbox()[0].GetAskedAbout().String(), "with the line's whole why")
	m.clk.Advance(15 * 24 * time.Hour)
	require.True(t, inbox()[0].GetOverdue())
	require.Equal(t, "We owe you an answer since 2026-10-04.", inbox()[0].GetHeadline())
	answer := func(who access.Actor) (*settlementv1.Dispute, error) {
		return m.as(who).AnswerDispute(t.Context(), &settlementv1.AnswerDisputeRequest{
			RequestId: uuid.NewString(), Name: d.GetName(), Answer: "Three readings of 19.2; you may ask for a re-test.", Outcome: settlementv1.DisputeOutcome_DISPUTE_OUTCOME_EXPLAINED,
		})
	}
	interested := office
	interested.Member = "members/M-0001"
	_, err = answer(interested)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "INTERESTED"})
	_, err = answer(office)
	require.NoError(t, err)
	_, err = answer(office)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "ANSWERED"})
	require.Empty(t, inbox())
	seen, err := m.as(mine).GetDispute(t.Context(), &settlementv1.GetDisputeRequest{Name: d.GetName()})
	require.NoError(t, err)
	require.Equal(t, "Three readings of 19.2; you may ask for a re-test.", seen.GetAnswer())
	none, err := m.as(rpctest.Member("M-0002")).ListDisputes(t.Context(), &settlementv1.ListDisputesRequest{})
	require.NoError(t, err)
	require.Empty(t, none.GetDisputes())
	_, err = m.as(rpctest.Member("M-0002")).GetDispute(t.Context(), &settlementv1.GetDisputeRequest{Name: d.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": d.GetName()})
}
