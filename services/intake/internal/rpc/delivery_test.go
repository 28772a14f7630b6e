package rpc_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/checkdigit"
	"barrelhead.example/services/kit/rpctest"
)

func TestDelivery(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	require.Equal(t, "FC-2026-000001", ticket.GetNumber())
	require.Equal(t, "2026-09-14", ticket.GetDeliveryDate())
	require.Equal(t, "Apiary M-0007", ticket.GetMemberDisplayName())
	require.Equal(t, "users/dock1", ticket.GetWeigher())

	first, second := d.weigh(ticket, "FC-00442"), d.weigh(ticket, "FC-00443")
	require.Equal(t, int32(1), first.GetLine())
	require.Equal(t, int32(2), second.GetLine())
	require.Equal(t, "642.5", first.GetNet().GetValue())
	require.Equal(t, "members/M-0007", first.GetMember())
	require.Equal(t, int32(2026), first.GetCropYear())
	require.Empty(t, first.GetSample())

	sampled := d.sample(first)
	require.NoError(t, checkdigit.ValidCode(sampled.GetSample()[len("samples/"):]))
	_, err := d.clerk.CloseTicket(t.Context(), closing(ticket, 2))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"unsampled": "1"})
	d.sample(second)

	closed := d.close(ticket, 2)
	require.Equal(t, intakev1.TicketState_TICKET_STATE_CLOSED, closed.GetState())
	require.Equal(t, "1285.0", closed.GetNetTotal().GetValue())
	require.True(t, proto.Equal(closed, d.ticket(ticket.GetName())), "the answer is what is read later")
	require.True(t, proto.Equal(closed.GetBarrels()[0], d.barrel(first.GetName())))

	var kinds []string
	for _, e := range d.facts() {
		kinds = append(kinds, string(e.GetPayload().MessageName().Name()))
	}
	require.Equal(t, []string{
		"MemberRegistered", "MemberRegistered", "ScaleChecked", "TicketOpened", "BarrelWeighed", "BarrelWeighed", "SampleDrawn",
		"SampleDrawn", "TicketClosed",
	}, kinds)
	facts := d.facts()
	require.True(t, proto.Equal(closed, payload[*intakev1.TicketClosed](t, facts[len(facts)-1]).GetTicket()))
}

func (d *dock) barrel(name string) *intakev1.Barrel {
	d.t.Helper()
	b, err := d.office.GetBarrel(d.t.Context(), &intakev1.GetBarrelRequest{Name: name})
	require.NoError(d.t, err)
	return b
}

func TestClosedTicketNeverChanges(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.deliver("M-0007", 100, 2)
	state := map[string]string{"state": "CLOSED", "resource": ticket.GetName()}
	_, err := d.clerk.WeighBarrel(t.Context(), usual(ticket, "FC-00999"))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	_, err = d.clerk.CloseTicket(t.Context(), closing(ticket, 2))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	_, err = d.clerk.CancelTicket(t.Context(), &intakev1.CancelTicketRequest{RequestId: id(), Name: ticket.GetName(), Reason: "wrong member"})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, state)
	_, err = d.clerk.DrawSample(t.Context(), &intakev1.DrawSampleRequest{RequestId: id(), Barrel: ticket.GetBarrels()[0].GetName()})
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"state": "SAMPLED"})
	require.True(t, proto.Equal(ticket, d.ticket(ticket.GetName())))
}

func TestCountAndEtagMustAgree(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	d.sample(d.weigh(ticket, "FC-00442"))
	_, err := d.clerk.CloseTicket(t.Context(), closing(ticket, 2))
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_STATE_FORBIDS, map[string]string{"counted": "2", "weighed": "1"})
	stale := closing(ticket, 1)
	stale.Etag = ticket.GetEtag()
	_, err = d.clerk.CloseTicket(t.Context(), stale)
	now := d.ticket(ticket.GetName()).GetEtag()
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ETAG_MISMATCH, map[string]string{"etag": now})
	fresh := closing(ticket, 1)
	fresh.Etag = now
	_, err = d.clerk.CloseTicket(t.Context(), fresh)
	require.NoError(t, err)
}

// The network dies after barrel 9 of 24; the clerk goes on offline; the queue is sent twice, out of step with itself.
func TestQueueOfAnOfflineDockMaySyncTwice(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticketID := id()
	open := &intakev1.OpenTicketRequest{RequestId: id(), TicketId: ticketID, Member: "members/M-0007", CropYear: 2026}
	ticket := &intakev1.Ticket{Name: "tickets/" + ticketID}
	var weighings []*intakev1.WeighBarrelRequest
	var samples []*intakev1.DrawSampleRequest
	for i := range 24 {
		w := usual(ticket, fmt.Sprintf("FC-%05d", i))
		w.BarrelId = id()
		weighings = append(weighings, w)
		samples = append(samples, &intakev1.DrawSampleRequest{RequestId: id(), Barrel: "barrels/" + w.GetBarrelId()})
	}
	end := closing(ticket, 24)

	_, err := d.clerk.OpenTicket(t.Context(), open)
	require.NoError(t, err)
	for i := range 9 {
		_, err := d.clerk.WeighBarrel(t.Context(), weighings[i])
		require.NoError(t, err)
	}
	var closed [2]*intakev1.Ticket
	for round := range closed {
		_, err := d.clerk.OpenTicket(t.Context(), open)
		require.NoError(t, err)
		for i := range weighings {
			_, err := d.clerk.WeighBarrel(t.Context(), weighings[i])
			require.NoError(t, err)
			_, err = d.clerk.DrawSample(t.Context(), samples[i])
			require.NoError(t, err)
		}
		closed[round], err = d.clerk.CloseTicket(t.Context(), end)
		require.NoError(t, err)
	}
	require.True(t, proto.Equal(closed[0], closed[1]))
	stored := d.ticket(ticket.GetName())
	require.Len(t, stored.GetBarrels(), 24)
	for i, b := range stored.GetBarrels() {
		require.Equal(t, int32(i+1), b.GetLine())
		require.Equal(t, "barrels/"+weighings[i].GetBarrelId(), b.GetName())
	}
	require.Equal(t, "15420.0", stored.GetNetTotal().GetValue())
	require.Equal(t, "FC-2026-000002", d.open("M-0008").GetNumber(), "the repeats took no number")
}

func TestIdsAreTakenOnce(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	again := &intakev1.OpenTicketRequest{RequestId: id(), TicketId: ticket.GetName()[len("tickets/"):], Member: "members/M-0007", CropYear: 2026}
	_, err := d.clerk.OpenTicket(t.Context(), again)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": ticket.GetName()})
	barrel := d.weigh(ticket, "FC-00442")
	twin := usual(ticket, "FC-00443")
	twin.BarrelId = barrel.GetName()[len("barrels/"):]
	_, err = d.clerk.WeighBarrel(t.Context(), twin)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_ALREADY_EXISTS, map[string]string{"resource": barrel.GetName()})
	require.Equal(t, "FC-2026-000002", d.open("M-0007").GetNumber(), "the refused ticket gave its number back")
}

func TestNumbersHaveNoGapsWhateverFails(t *testing.T) {
	t.Parallel()
	d := ready(t)
	taken := d.open("M-0007").GetName()[len("tickets/"):]
	var group sync.WaitGroup
	numbers := make(chan string, 40)
	for i := range 40 {
		group.Go(func() {
			req := &intakev1.OpenTicketRequest{RequestId: id(), Member: "members/M-0008", CropYear: 2026}
			if i%4 == 0 {
				req.TicketId = taken
			}
			if opened, err := d.clerk.OpenTicket(t.Context(), req); err == nil {
				numbers <- opened.GetNumber()
			}
		})
	}
	group.Wait()
	close(numbers)
	seen := map[string]bool{"FC-2026-000001": true}
	for n := range numbers {
		seen[n] = true
	}
	require.Len(t, seen, 31)
	for i := range 31 {
		require.Contains(t, seen, fmt.Sprintf("FC-2026-%06d", i+1))
	}
}

func TestYearOfTheNumberIsLocal(t *testing.T) {
	t.Parallel()
	d := ready(t)
	// 23:30 on New Year's Eve at the dock is the next year in Greenwich.
	d.clock.Set(time.Date(2027, 1, 1, 5, 30, 0, 0, time.UTC))
	ticket := d.open("M-0007")
	require.Equal(t, "FC-2026-000001", ticket.GetNumber())
	require.Equal(t, "2026-12-31", ticket.GetDeliveryDate())
	d.clock.Advance(time.Hour)
	require.Equal(t, "FC-2027-000001", d.open("M-0007").GetNumber())
}

func TestTenIdenticalRequestsWeighOneBarrel(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	req := usual(ticket, "FC-00442")
	answers := make([]*intakev1.Barrel, 10)
	var group sync.WaitGroup
	for i := range answers {
		group.Go(func() {
			var err error
			answers[i], err = d.clerk.WeighBarrel(t.Context(), req)
			require.NoError(t, err)
		})
	}
	group.Wait()
	for _, a := range answers {
		require.True(t, proto.Equal(answers[0], a))
	}
	require.Len(t, d.ticket(ticket.GetName()).GetBarrels(), 1)
	changed := usual(ticket, "FC-00443")
	changed.RequestId = req.GetRequestId()
	_, err := d.clerk.WeighBarrel(t.Context(), changed)
	rpctest.RefusedAs(t, err, errorv1.Reason_REASON_REQUEST_ID_REUSED, map[string]string{"request_id": req.GetRequestId()})
}

func TestParallelClerksShareATicket(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	var group sync.WaitGroup
	for i := range 20 {
		clerk := []intakev1.IntakeServiceClient{d.clerk, d.second}[i%2]
		group.Go(func() {
			_, err := clerk.WeighBarrel(t.Context(), usual(ticket, fmt.Sprintf("FC-%05d", i)))
			require.NoError(t, err)
		})
	}
	group.Wait()
	for i, b := range d.ticket(ticket.GetName()).GetBarrels() {
		require.Equal(t, int32(i+1), b.GetLine())
	}
}

func TestCancelledTicketFreesItsDrums(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	d.weigh(ticket, "FC-00442")
	cancelled, err := d.clerk.CancelTicket(t.Context(), &intakev1.CancelTicketRequest{RequestId: id(), Name: ticket.GetName(), Reason: "truck left"})
	require.NoError(t, err)
	require.Equal(t, intakev1.TicketState_TICKET_STATE_CANCELLED, cancelled.GetState())
	require.Empty(t, d.drum("FC-00442").GetOpenBarrel())
	next := d.open("M-0008")
	require.Equal(t, "FC-2026-000002", next.GetNumber(), "a cancelled number stays used")
	d.weigh(next, "FC-00442")
}
