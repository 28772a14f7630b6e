package rpc_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/pgtest"
	"barrelhead.example/services/kit/rpctest"
)

func (d *dock) reviews() []*intakev1.ScaleReview {
	d.t.Helper()
	listed, err := d.auditor.ListScaleReviews(d.t.Context(), &intakev1.ListScaleReviewsRequest{})
	require.NoError(d.t, err)
	return listed.GetScaleReviews()
}

// The check barrel shows 3.5 lb too much at 13:00; the last pass was before work; 118 tickets lie between, 71 of their
// barrels are still in their drums.
func TestFailedCheckMarksExactlyWhatCameSinceTheLastPass(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.deliver("M-0007", 1, 3) // under the first check: not in doubt
	d.newScale("9")
	d.check("9", "600.0")
	lastPass := d.check("2", "601.0")

	tickets := make([]*intakev1.Ticket, 118)
	var group sync.WaitGroup
	for worker := range 4 {
		group.Go(func() {
			for i := worker; i < len(tickets); i += 4 {
				tickets[i] = d.deliver("M-0007", 1000+i, 1)
			}
		})
	}
	group.Wait()
	for _, ticket := range tickets[:47] {
		_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{
			RequestId: id(), Name: "drums/" + ticket.GetBarrels()[0].GetDrumTag(), Reason: "emptied into tank 1",
		})
		require.NoError(t, err)
	}
	elsewhere := d.open("M-0008")
	good := usual(elsewhere, "FC-05000")
	good.Scale = "scales/9"
	_, err := d.clerk.WeighBarrel(t.Context(), good)
	require.NoError(t, err)
	cancelled := d.open("M-0008")
	d.weigh(cancelled, "FC-05001")
	_, err = d.clerk.CancelTicket(t.Context(), &intakev1.CancelTicketRequest{RequestId: id(), Name: cancelled.GetName(), Reason: "truck left"})
	require.NoError(t, err)

	d.clock.Advance(6 * time.Hour)
	failed := d.check("2", "603.5")
	require.Len(t, d.reviews(), 1)
	review := d.reviews()[0]
	require.Len(t, review.GetTickets(), 118)
	require.Len(t, review.GetBarrels(), 118)
	require.Len(t, review.GetReweighBarrels(), 71)
	for _, ticket := range tickets {
		require.Contains(t, review.GetTickets(), ticket.GetName())
		require.Contains(t, review.GetBarrels(), ticket.GetBarrels()[0].GetName())
	}
	for _, ticket := range tickets[:47] {
		require.NotContains(t, review.GetReweighBarrels(), ticket.GetBarrels()[0].GetName())
	}
	require.True(t, proto.Equal(failed, review.GetFailedCheck()))
	require.True(t, proto.Equal(lastPass.GetCheckTime(), review.GetSinceTime()))
	facts := d.facts()
	require.True(t, proto.Equal(review, payload[*intakev1.ScaleReviewOpened](t, facts[len(facts)-1]).GetReview()))

	d.check("2", "603.5")
	require.Len(t, d.reviews(), 1, "nothing was weighed after the failure")
	d.check("2", "600.0")
	d.deliver("M-0007", 6000, 2)
	d.check("2", "602.0")
	second := d.reviews()[0]
	require.Len(t, second.GetBarrels(), 2, "newest first, and only what came since")
}

// A barrel weighed while a scale is being checked comes either before the check or after it; none is lost in between.
func TestNoBarrelSlipsPastAFailingCheck(t *testing.T) {
	t.Parallel()
	d := ready(t)
	for round := range 5 {
		ticket := d.open("M-0007")
		var weighed sync.Map
		var group sync.WaitGroup
		for i := range 12 {
			group.Go(func() {
				if b, err := d.clerk.WeighBarrel(t.Context(), usual(ticket, fmt.Sprintf("R%d-%d", round, i))); err == nil {
					weighed.Store(b.GetName(), true)
				}
			})
		}
		group.Go(func() { d.check("2", "603.5") })
		group.Wait()
		inDoubt := map[string]bool{}
		for _, r := range d.reviews() {
			for _, name := range r.GetBarrels() {
				inDoubt[name] = true
			}
		}
		weighed.Range(func(name, _ any) bool {
			require.True(t, inDoubt[name.(string)])
			return true
		})
		d.check("2", "600.0")
	}
}

// A drum stencilled 38 weighs 47 after draining.
func TestTareVariance(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	req := usual(ticket, "FC-00442")
	req.Tare = lb("38.0")
	barrel, err := d.clerk.WeighBarrel(t.Context(), req)
	require.NoError(t, err)
	d.sample(barrel)
	d.sample(d.weigh(ticket, "FC-00443"))
	before := d.close(ticket, 2)
	release := func(tag, weight string) {
		t.Helper()
		_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{
			RequestId: id(), Name: "drums/" + tag, Reason: "drained", EmptyWeight: lb(weight),
		})
		require.NoError(t, err)
	}
	release("FC-00442", "47.0")
	facts := d.facts()
	found := payload[*intakev1.TareVarianceFound](t, facts[len(facts)-1]).GetVariance()
	require.Equal(t, "-9.0", found.GetNetCorrection().GetValue())
	require.Equal(t, "2.0", found.GetAllowed().GetValue())
	require.Equal(t, barrel.GetName(), found.GetBarrel())
	require.Equal(t, "members/M-0007", found.GetMember())
	release("FC-00443", "44.0")
	listed, err := d.office.ListTareVariances(t.Context(), &intakev1.ListTareVariancesRequest{})
	require.NoError(t, err)
	require.Len(t, listed.GetTareVariances(), 1, "2 lb are let pass")
	require.True(t, proto.Equal(found, listed.GetTareVariances()[0]))
	require.Equal(t, before.GetNetTotal().GetValue(), d.ticket(ticket.GetName()).GetNetTotal().GetValue(), "the ticket stays as it was")
	require.Equal(t, "47.0", d.drum("FC-00442").GetLastTare().GetValue())
}

func TestPagesOfReviewsAndVariances(t *testing.T) {
	t.Parallel()
	d := ready(t)
	for i := range 3 {
		ticket := d.deliver("M-0007", 10*i, 1)
		d.clock.Advance(time.Minute)
		_, err := d.store.ReleaseDrum(t.Context(), &intakev1.ReleaseDrumRequest{
			RequestId: id(), Name: "drums/" + ticket.GetBarrels()[0].GetDrumTag(), Reason: "drained", EmptyWeight: lb("50.0"),
		})
		require.NoError(t, err)
		d.check("2", "603.5")
		d.check("2", "600.0")
	}
	var reviews, variances []string
	reviewPage, variancePage := &intakev1.ListScaleReviewsRequest{PageSize: 2}, &intakev1.ListTareVariancesRequest{PageSize: 2}
	for range 2 {
		r, err := d.office.ListScaleReviews(t.Context(), reviewPage)
		require.NoError(t, err)
		v, err := d.office.ListTareVariances(t.Context(), variancePage)
		require.NoError(t, err)
		for _, review := range r.GetScaleReviews() {
			reviews = append(reviews, review.GetName())
		}
		for _, variance := range v.GetTareVariances() {
			variances = append(variances, variance.GetDrumTag())
		}
		reviewPage.PageToken, variancePage.PageToken = r.GetNextPageToken(), v.GetNextPageToken()
	}
	require.Empty(t, reviewPage.GetPageToken())
	require.Empty(t, variancePage.GetPageToken())
	require.Len(t, reviews, 3)
	require.Equal(t, []string{"FC-00020", "FC-00010", "FC-00000"}, variances)
	_, err := d.office.ListScaleReviews(t.Context(), &intakev1.ListScaleReviewsRequest{PageToken: "?"})
	rpctest.Faults(t, err, "page_token")
}

func TestEveryNumberIsAccountedFor(t *testing.T) {
	t.Parallel()
	d := ready(t)
	d.deliver("M-0007", 1, 1)
	wrong, gone := d.deliver("M-0007", 2, 1), d.deliver("M-0007", 3, 1)
	d.requestVoid(wrong, "members/M-0008")
	_, err := d.office.ApproveTicketVoid(t.Context(), approval(wrong))
	require.NoError(t, err)
	d.requestVoid(gone, "")
	_, err = d.office.ApproveTicketVoid(t.Context(), approval(gone))
	require.NoError(t, err)
	_, err = d.clerk.CancelTicket(t.Context(), &intakev1.CancelTicketRequest{RequestId: id(), Name: d.open("M-0007").GetName(), Reason: "truck left"})
	require.NoError(t, err)
	d.open("M-0008")

	report := func(year int32) *intakev1.TicketNumberReport {
		r, err := d.auditor.ReportTicketNumbers(t.Context(), &intakev1.ReportTicketNumbersRequest{Year: year})
		require.NoError(t, err)
		return r
	}
	r := report(2026)
	require.Equal(t, "FC", r.GetSite())
	require.Equal(t, int64(6), r.GetLastNumber())
	require.Empty(t, r.GetMissingNumbers())
	counts := map[string]int64{}
	for _, c := range r.GetStateCounts() {
		counts[c.GetState().String()[len("TICKET_STATE_"):]] = c.GetCount()
	}
	require.Equal(t, map[string]int64{"CLOSED": 2, "SUPERSEDED": 1, "VOIDED": 1, "CANCELLED": 1, "OPEN": 1}, counts)
	require.Len(t, r.GetExceptions(), 4)
	require.Equal(t, "FC-2026-000002", r.GetExceptions()[0].GetNumber())
	require.Equal(t, "users/office1", r.GetExceptions()[0].GetActor())
	require.Equal(t, "closed under the wrong member", r.GetExceptions()[0].GetReason())
	require.Equal(t, "truck left", r.GetExceptions()[2].GetReason())
	require.Equal(t, "users/dock1", r.GetExceptions()[3].GetActor())
	require.Zero(t, report(2025).GetLastNumber())

	// Somebody with access to the tables removes a ticket.
	pgtest.Exec(t, "intake", `WITH t AS (SELECT id FROM ticket WHERE state = 'CANCELLED'),
		x AS (DELETE FROM ticket_transition WHERE ticket IN (SELECT id FROM t)) DELETE FROM ticket WHERE id IN (SELECT id FROM t)`)
	require.Equal(t, []string{"FC-2026-000005"}, report(2026).GetMissingNumbers())
}

func TestTypedAndOverriddenWeightsAreCounted(t *testing.T) {
	t.Parallel()
	d := ready(t)
	ticket := d.open("M-0007")
	weigh := func(by intakev1.IntakeServiceClient, tag string, change func(*intakev1.WeighBarrelRequest)) {
		t.Helper()
		req := usual(ticket, tag)
		change(req)
		_, err := by.WeighBarrel(t.Context(), req)
		require.NoError(t, err)
	}
	weigh(d.clerk, "FC-00001", func(*intakev1.WeighBarrelRequest) {})
	weigh(d.clerk, "FC-00002", func(r *intakev1.WeighBarrelRequest) { r.Gross, r.Reason = lb("454.0"), "top-off barrel" })
	weigh(d.second, "FC-00003", func(r *intakev1.WeighBarrelRequest) { r.Manual, r.Reason = true, "cable broken" })
	d.clock.Advance(24 * time.Hour)
	weigh(d.second, "FC-00004", func(*intakev1.WeighBarrelRequest) {})
	report := func(from, to string) []string {
		t.Helper()
		r, err := d.auditor.ReportWeighers(t.Context(), &intakev1.ReportWeighersRequest{FromDate: from, ToDate: to})
		require.NoError(t, err)
		var lines []string
		for _, l := range r.GetLines() {
			lines = append(lines, fmt.Sprintf("%s %d/%d/%d", l.GetWeigher(), l.GetBarrels(), l.GetManual(), l.GetOverridden()))
		}
		return lines
	}
	require.Equal(t, []string{"users/dock2 1/1/0", "users/dock1 2/0/1"}, report("2026-09-14", "2026-09-14"))
	require.Equal(t, []string{"users/dock2 2/1/0", "users/dock1 2/0/1"}, report("2026-09-01", "2026-09-30"))
	require.Empty(t, report("2026-09-16", "2026-09-16"))
	_, err := d.auditor.ReportWeighers(t.Context(), &intakev1.ReportWeighersRequest{FromDate: "2026-09-16", ToDate: "2026-09-15"})
	rpctest.Faults(t, err, "to_date")
}

func TestScalesSayWhatTheyNeed(t *testing.T) {
	t.Parallel()
	d := ready(t)
	warnings := func() []string {
		t.Helper()
		listed, err := d.office.ListScales(t.Context(), &intakev1.ListScalesRequest{})
		require.NoError(t, err)
		return listed.GetScales()[0].GetWarnings()
	}
	check := func(seal string, kind intakev1.ToleranceKind, positions ...string) {
		t.Helper()
		req := &intakev1.RecordScaleCheckRequest{RequestId: id(), Scale: "scales/2", ZeroIndication: lb("0"), Seal: seal, ToleranceKind: kind}
		for _, p := range positions {
			req.Loads = append(req.Loads, &intakev1.CheckLoad{WeightId: "TW-50-1", Known: lb("50"), Indication: lb("50"), Position: p})
		}
		done, err := d.clerk.RecordScaleCheck(t.Context(), req)
		require.NoError(t, err)
		require.Equal(t, seal, done.GetSeal())
	}
	require.Equal(t, []string{"the corners of scale 2 were never tried: put a weight on A, B, C and D in one check"}, warnings())
	check("S-114", intakev1.ToleranceKind_TOLERANCE_KIND_MAINTENANCE, "A", "B", "C", "D")
	require.Empty(t, warnings())
	check("S-115", intakev1.ToleranceKind_TOLERANCE_KIND_MAINTENANCE, "CENTRE")
	require.Len(t, warnings(), 1)
	require.Contains(t, warnings()[0], "read S-115 at the last check, but S-114 is on record")
	check("S-115", intakev1.ToleranceKind_TOLERANCE_KIND_ACCEPTANCE, "CENTRE")
	require.Empty(t, warnings(), "an acceptance check puts the new seal on record")
	d.clock.Advance(8 * 24 * time.Hour)
	require.Contains(t, warnings()[0], "last tried on 2026-09-14, 8 days ago")
	d.clock.Set(time.Date(2027, 3, 1, 18, 0, 0, 0, time.UTC))
	require.Contains(t, warnings()[0], "lapsed on 2027-02-28")
}
