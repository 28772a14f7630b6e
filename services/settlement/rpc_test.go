package settlement_test

import (
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/rpctest"
	"barrelhead.example/services/settlement/internal/rpc"
)

func create(s *settlementv1.Schedule) *settlementv1.CreateScheduleRequest {
	return &settlementv1.CreateScheduleRequest{RequestId: uuid.NewString(), Schedule: s}
}

func adoption(s *settlementv1.Schedule) *settlementv1.AdoptScheduleRequest {
	return &settlementv1.AdoptScheduleRequest{RequestId: uuid.NewString(), Name: s.GetName(), Resolution: "Board 2026-06-14 no. 3"}
}

func TestWhoMayCall(t *testing.T) {
	t.Parallel()
	h := open(t)
	s := rpctest.New(t, func(r grpc.ServiceRegistrar) { rpc.Register(r, h.app) })
	rpctest.Matrix(t, s.Gateway(), settlementv1.SettlementService_ServiceDesc.ServiceName)
	rpctest.Matrix(t, s.Gateway(), settlementv1.MemberAccountService_ServiceDesc.ServiceName)
}

func TestScheduleFromDraftToAdoption(t *testing.T) {
	t.Parallel()
	as := open(t).serve()
	draft, err := as(office).CreateSchedule(t.Context(), create(prices("2026-07-01")))
	require.NoError(t, err)
	require.Equal(t, int32(1), draft.GetVersion())
	require.Equal(t, settlementv1.ScheduleState_SCHEDULE_STATE_DRAFT, draft.GetState())
	require.Equal(t, "users/office1", draft.GetDrafter())
	second, err := as(office).CreateSchedule(t.Context(), create(prices("2026-07-01")))
	require.NoError(t, err)
	require.Equal(t, int32(2), second.GetVersion())

	drafter := board
	drafter.Login = office.Login
	_, err = as(drafter).AdoptSchedule(t.Context(), adoption(draft))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SAME_PERSON, map[string]string{"first": "users/office1"})

	adopted, err := as(board).AdoptSchedule(t.Context(), adoption(draft))
	require.NoError(t, err)
	require.Equal(t, settlementv1.ScheduleState_SCHEDULE_STATE_ADOPTED, adopted.GetState())
	require.Equal(t, "users/board1", adopted.GetAdopter())
	require.Equal(t, "Board 2026-06-14 no. 3", adopted.GetResolution())
	require.True(t, adopted.GetAdoptTime().AsTime().Equal(harvest))

	_, err = as(board).AdoptSchedule(t.Context(), adoption(draft))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "ADOPTED", "resource": draft.GetName()})
	_, err = as(board).AdoptSchedule(t.Context(), adoption(second))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_SCHEDULE_OVERLAP, map[string]string{"schedule": draft.GetName(), "effective_date": "2026-07-01"})
	_, err = as(board).AdoptSchedule(t.Context(), adoption(&settlementv1.Schedule{Name: "schedules/" + uuid.NewString()}))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, nil)

	read, err := as(auditor).GetSchedule(t.Context(), &settlementv1.GetScheduleRequest{Name: draft.GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(adopted, read))
}

func TestAMemberSeesAdoptedSchedulesOnly(t *testing.T) {
	t.Parallel()
	h := open(t)
	as := h.serve()
	adopted, draft := h.adopt(prices("2026-07-01")), h.draft(prices("2026-09-01"))
	mine := as(rpctest.Member("M-0001"))
	_, err := mine.GetSchedule(t.Context(), &settlementv1.GetScheduleRequest{Name: draft.GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": draft.GetName()})
	list, err := mine.ListSchedules(t.Context(), &settlementv1.ListSchedulesRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetSchedules(), 1)
	require.Equal(t, adopted.GetName(), list.GetSchedules()[0].GetName())

	first, err := as(office).ListSchedules(t.Context(), &settlementv1.ListSchedulesRequest{PageSize: 1})
	require.NoError(t, err)
	require.Equal(t, draft.GetName(), first.GetSchedules()[0].GetName())
	rest, err := as(office).ListSchedules(t.Context(), &settlementv1.ListSchedulesRequest{PageSize: 1, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	require.Equal(t, adopted.GetName(), rest.GetSchedules()[0].GetName())
	require.Empty(t, rest.GetNextPageToken())
}

func TestEveryFaultOfADraftAtOnce(t *testing.T) {
	t.Parallel()
	bad := prices("2026-13-01")
	bad.Rows[0].Advance = &typev1.Price{Amount: "1.15", CurrencyCode: "EUR", PerUnit: "KG"}
	bad.Rows[1].Grade = "D"
	bad.Rows = append(bad.Rows, bad.GetRows()[2])
	bad.MoistureRule.BasePercent = "18.655"
	bad.Deductions[0].Authority = ""
	bad.Deductions[1].Rate = nil
	_, err := open(t).serve()(office).CreateSchedule(t.Context(), create(bad))
	got := rpctest.Faults(t, err, "schedule.effective_date", "schedule.rows[0].advance.currency_code", "schedule.rows[1].grade", "schedule.rows[3]",
		"schedule.moisture_rule.base_percent", "schedule.deductions[0].authority", "schedule.deductions[1].rate")
	require.Contains(t, got.Message, "this cooperative pays in USD")

	_, err = open(t).serve()(office).CreateSchedule(t.Context(), &settlementv1.CreateScheduleRequest{RequestId: "7"})
	rpctest.Faults(t, err, "request_id", "schedule")
	_, err = open(t).serve()(office).CreateSchedule(t.Context(), create(&settlementv1.Schedule{CropYear: 2026}))
	rpctest.Faults(t, err, "schedule.effective_date", "schedule.moisture_rule", "schedule.rows")
}

func TestOneRequestOneSchedule(t *testing.T) {
	t.Parallel()
	h := open(t)
	client, req := h.serve()(office), create(prices("2026-07-01"))
	answers := make([]*settlementv1.Schedule, 10)
	var running sync.WaitGroup
	for i := range answers {
		running.Go(func() { answers[i], _ = client.CreateSchedule(t.Context(), req) })
	}
	running.Wait()
	for _, a := range answers {
		require.True(t, proto.Equal(answers[0], a))
	}
	require.NotEmpty(t, answers[0].GetName())
	require.Equal(t, 1, h.facts()["barrelhead.settlement.v1.ScheduleDrafted"])
	req.Schedule.CropYear = 2027
	req.Schedule.EffectiveDate = "2027-07-01"
	_, err := client.CreateSchedule(t.Context(), req)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, map[string]string{"request_id": req.GetRequestId()})
}

func TestAdoptionSentTenTimesPricesOnce(t *testing.T) {
	t.Parallel()
	h := open(t)
	h.take(member("M-0001", "Orchard Hill Apiary"))
	h.take(closed(ticket("FC-2026-000001", "M-0001", barrelOf{"FC-1", "640.0", "clover"})))
	h.take(sampled("FC-1"))
	h.take(graded("FC-1", 1, "17.0", "WHITE", "A"))
	client, req := h.serve()(board), adoption(h.draft(prices("2026-07-01")))
	var running sync.WaitGroup
	errs := make([]error, 10)
	for i := range errs {
		running.Go(func() { _, errs[i] = client.AdoptSchedule(t.Context(), req) })
	}
	running.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
	require.Len(t, h.payouts("M-0001"), 1)
	require.Equal(t, 1, h.facts()[pricedFact])
}

// twoMembers have a priced barrel each and one that waits.
func twoMembers(t *testing.T) *house {
	h := open(t)
	h.adopt(prices("2026-07-01"))
	for i, m := range []string{"M-0001", "M-0002"} {
		paid, waits := fmt.Sprintf("FC-%d1", i), fmt.Sprintf("FC-%d2", i)
		h.take(member(m, "Member "+m))
		h.take(closed(ticket(fmt.Sprintf("FC-2026-%06d", i), m, barrelOf{paid, "640.0", "clover"}, barrelOf{waits, "640.0", "clover"})))
		h.take(sampled(paid))
		h.take(graded(paid, 1, "19.2", "WHITE", "A"))
	}
	return h
}

// The bytes of the whole status are compared, with nothing but the names swapped.
func TestANeighboursMoneyIsAsIfItDidNotExist(t *testing.T) {
	t.Parallel()
	h := twoMembers(t)
	mine := h.serve()(rpctest.Member("M-0001"))
	theirs, nobodys := h.payouts("M-0002")[0].GetName(), "payouts/"+uuid.NewString()
	same := func(existing, missing string, call func(name string) error) {
		found, absent := answer(t, call(existing), existing), answer(t, call(missing), missing)
		require.Equal(t, absent, found)
		rpctest.RefusedAs(t, call(existing), errorv1.Reason_REASON_NOT_FOUND, map[string]string{"resource": existing})
	}
	same(theirs, nobodys, func(name string) error {
		_, err := mine.GetPayout(t.Context(), &settlementv1.GetPayoutRequest{Name: name})
		return err
	})
	same("members/M-0002", "members/M-9999", func(name string) error {
		_, err := mine.GetMemberTotal(t.Context(), &settlementv1.GetMemberTotalRequest{Member: name})
		return err
	})
	same("members/M-0002", "members/M-9999", func(name string) error {
		_, err := mine.ListPayouts(t.Context(), &settlementv1.ListPayoutsRequest{Member: name})
		return err
	})
	same("members/M-0002", "members/M-9999", func(name string) error {
		_, err := mine.ListUnpriced(t.Context(), &settlementv1.ListUnpricedRequest{Member: name})
		return err
	})
	_, err := mine.ListMemberTotals(t.Context(), &settlementv1.ListMemberTotalsRequest{})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_NOT_ALLOWED, nil)
}

func answer(t *testing.T, err error, name string) string {
	st, ok := status.FromError(err)
	require.True(t, ok)
	require.Equal(t, codes.NotFound, st.Code())
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(st.Proto())
	require.NoError(t, err)
	// Lengths are part of the encoding, so callers compare names of the same length.
	require.Contains(t, string(raw), name)
	return strings.ReplaceAll(string(raw), name, strings.Repeat("x", len(name)))
}

func TestAMemberReadsItsOwn(t *testing.T) {
	t.Parallel()
	h := twoMembers(t)
	mine := h.serve()(rpctest.Member("M-0001"))
	list, err := mine.ListPayouts(t.Context(), &settlementv1.ListPayoutsRequest{Member: "members/M-0001"})
	require.NoError(t, err)
	require.Len(t, list.GetPayouts(), 1)
	one, err := mine.GetPayout(t.Context(), &settlementv1.GetPayoutRequest{Name: list.GetPayouts()[0].GetName()})
	require.NoError(t, err)
	require.True(t, proto.Equal(list.GetPayouts()[0], one))
	total, err := mine.GetMemberTotal(t.Context(), &settlementv1.GetMemberTotalRequest{Member: "members/M-0001"})
	require.NoError(t, err)
	require.Equal(t, one.GetNetAmount().GetAmount(), total.GetNetAmount().GetAmount())
	waits, err := mine.ListUnpriced(t.Context(), &settlementv1.ListUnpricedRequest{})
	require.NoError(t, err)
	require.Len(t, waits.GetUnpriced(), 1)
	require.Equal(t, "members/M-0001", waits.GetUnpriced()[0].GetMember())
}

func TestPages(t *testing.T) {
	t.Parallel()
	h := twoMembers(t)
	h.take(graded("FC-01", 2, "18.9", "WHITE", "A"))
	client := h.serve()(treasurer)
	var payouts []string
	for token := ""; ; {
		page, err := client.ListPayouts(t.Context(), &settlementv1.ListPayoutsRequest{Member: "members/M-0001", PageSize: 2, PageToken: token})
		require.NoError(t, err)
		for _, p := range page.GetPayouts() {
			payouts = append(payouts, p.GetName())
		}
		if token = page.GetNextPageToken(); token == "" {
			break
		}
	}
	require.Len(t, payouts, 3)
	first, err := client.ListUnpriced(t.Context(), &settlementv1.ListUnpricedRequest{PageSize: 1})
	require.NoError(t, err)
	second, err := client.ListUnpriced(t.Context(), &settlementv1.ListUnpricedRequest{PageSize: 1, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	require.Empty(t, second.GetNextPageToken())
	require.NotEqual(t, first.GetUnpriced()[0].GetBarrel(), second.GetUnpriced()[0].GetBarrel())
	_, err = client.ListUnpriced(t.Context(), &settlementv1.ListUnpricedRequest{Member: "members/M-0001", PageToken: first.GetNextPageToken()})
	rpctest.Faults(t, err, "page_token")
	_, err = client.ListPayouts(t.Context(), &settlementv1.ListPayoutsRequest{Member: "members/M-0001", PageSize: -1})
	rpctest.Faults(t, err, "page_size")
}

func TestGrandTotalIsTheSumOverAllPages(t *testing.T) {
	t.Parallel()
	h := twoMembers(t)
	client := h.serve()(auditor)
	first, err := client.ListMemberTotals(t.Context(), &settlementv1.ListMemberTotalsRequest{PageSize: 1})
	require.NoError(t, err)
	second, err := client.ListMemberTotals(t.Context(), &settlementv1.ListMemberTotalsRequest{PageSize: 1, PageToken: first.GetNextPageToken()})
	require.NoError(t, err)
	require.True(t, proto.Equal(first.GetGrandTotal(), second.GetGrandTotal()))
	require.Equal(t, "1397.48", first.GetGrandTotal().GetNetAmount().GetAmount())
	require.Equal(t, "698.74", first.GetMemberTotals()[0].GetNetAmount().GetAmount())
	require.Equal(t, "698.74", second.GetMemberTotals()[0].GetNetAmount().GetAmount())
	require.Equal(t, int32(4), first.GetGrandTotal().GetBarrels())
	require.Equal(t, int32(2), first.GetGrandTotal().GetPricedBarrels())
}

func TestATamperedLineStopsTheTotal(t *testing.T) {
	t.Parallel()
	h := twoMembers(t)
	h.asOwner(`UPDATE payout_line SET amount = amount + 1 WHERE line = 1 AND payout = (SELECT payout FROM payout WHERE member = 'members/M-0002')`)
	client := h.serve()(office)
	_, err := client.GetMemberTotal(t.Context(), &settlementv1.GetMemberTotalRequest{Member: "members/M-0002"})
	got := apierr.Parse(err)
	require.Equal(t, "TOTAL_DISAGREES", got.Reason)
	require.Equal(t, "-0.01", got.Metadata["difference"])
	_, err = client.ListMemberTotals(t.Context(), &settlementv1.ListMemberTotalsRequest{})
	require.Equal(t, "TOTAL_DISAGREES", apierr.Parse(err).Reason)
	_, err = client.GetMemberTotal(t.Context(), &settlementv1.GetMemberTotalRequest{Member: "members/M-0001"})
	require.NoError(t, err)
}

func TestMoneyCannotBeEdited(t *testing.T) {
	t.Parallel()
	h := twoMembers(t)
	for _, table := range []string{"payout", "payout_line", "schedule", "schedule_adoption"} {
		_, err := h.db.Pool().Exec(t.Context(), "DELETE FROM "+table)
		require.ErrorContains(t, err, "permission denied", table)
	}
	_, err := h.db.Pool().Exec(t.Context(), "UPDATE payout SET net_amount = 0")
	require.ErrorContains(t, err, "permission denied")
	require.Len(t, h.payouts("M-0001"), 1)
	h.take(&intakev1.TicketVoided{Ticket: ticket("FC-2026-000000", "M-0001")})
	require.Len(t, h.payouts("M-0001"), 2)
}
