package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/quantity"
)

func rematch() domain.Rematch {
	return domain.Rematch{
		Barrel: domain.Barrel{DrumTag: "FC-00442", Open: true, Weighing: domain.Weighing{Gross: 684_500, Tare: 42_000}},
		Ticket: domain.Ticket{State: domain.Closed, CloseTime: time.Date(2026, 9, 14, 20, 0, 0, 0, time.UTC)},
		Scale: domain.Scale{ID: "9", Division: 500, Capacity: 1_000_000, Class: domain.ClassIII, LastCheck: &domain.Check{
			Passed: true, Date: "2026-09-14", Ordinal: 4,
		}},
		Days: 14,
	}
}

func again(gross quantity.Mass) domain.Reweigh {
	return domain.Reweigh{Gross: gross, Stable: true, SealIntact: true, Weigher: "users/dock2", Time: time.Date(2026, 9, 14, 21, 0, 0, 0, time.UTC)}
}

// A 684.5 lb gross on a scale of 0.5 lb is 1,369 divisions, so ± 1.0 lb: up to that the ticket stays, beyond it the
// re-weigh counts in either direction.
func TestReweighRule(t *testing.T) {
	t.Parallel()
	for shown, net := range map[quantity.Mass]quantity.Mass{
		684_500: 642_500, 685_500: 642_500, 683_500: 642_500, 686_000: 644_000, 683_000: 641_000, 681_000: 639_000,
	} {
		r, err := rematch().Judge(again(shown), quantity.LB, time.UTC)
		require.NoError(t, err)
		require.Equal(t, quantity.Mass(1_000), r.Tolerance)
		require.Equal(t, net, r.Net(), "%s shown", shown)
		require.Equal(t, net-642_500, r.NetCorrection())
		require.Equal(t, int64(4), r.CheckOrdinal)
	}
}

// Whoever gains, a difference of d is treated as one of −d.
func TestReweighRuleFavoursNobody(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := quantity.Mass(500 * rapid.Int64Range(-20, 20).Draw(t, "divisions"))
		up, err := rematch().Judge(again(684_500+d), quantity.LB, time.UTC)
		require.NoError(t, err)
		down, err := rematch().Judge(again(684_500-d), quantity.LB, time.UTC)
		require.NoError(t, err)
		require.Equal(t, up.Counts(), down.Counts())
		require.Equal(t, up.NetCorrection(), -down.NetCorrection())
	})
}

func TestWhatCannotBeWeighedAgain(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		change func(*domain.Rematch, *domain.Reweigh)
		reason string
		state  string
	}{
		"emptied":           {func(m *domain.Rematch, _ *domain.Reweigh) { m.Barrel.Open = false }, "STATE_FORBIDS", "EMPTIED"},
		"seal broken":       {func(_ *domain.Rematch, r *domain.Reweigh) { r.SealIntact = false }, "STATE_FORBIDS", "SEAL_BROKEN"},
		"withdrawn":         {func(m *domain.Rematch, _ *domain.Reweigh) { m.Ticket.State = domain.Voided }, "STATE_FORBIDS", "VOIDED"},
		"done already":      {func(m *domain.Rematch, _ *domain.Reweigh) { m.Earlier = domain.Reweighs{{}} }, "STATE_FORBIDS", "REWEIGHED"},
		"done but in doubt": {func(m *domain.Rematch, _ *domain.Reweigh) { m.Earlier = domain.Reweighs{{Doubted: true}} }, "", ""},
		"the last day":      {func(m *domain.Rematch, _ *domain.Reweigh) { m.Days = 0 }, "", ""},
		"too late":          {func(m *domain.Rematch, _ *domain.Reweigh) { m.Days = -1 }, "DEADLINE_PASSED", ""},
		"late, in a review": {func(m *domain.Rematch, _ *domain.Reweigh) { m.Days, m.InReview = -1, true }, "", ""},
		"ticket still open": {func(m *domain.Rematch, _ *domain.Reweigh) { m.Days, m.Ticket.State = -1, domain.Open }, "", ""},
		"failed scale":      {func(m *domain.Rematch, _ *domain.Reweigh) { m.Scale.LastCheck.Passed = false }, "SCALE_CHECK_MISSING", ""},
		"unchecked today":   {func(m *domain.Rematch, _ *domain.Reweigh) { m.Scale.LastCheck.Date = "2026-09-13" }, "SCALE_CHECK_MISSING", ""},
		"never checked":     {func(m *domain.Rematch, _ *domain.Reweigh) { m.Scale.LastCheck = nil }, "SCALE_CHECK_MISSING", ""},
		"moving":            {func(_ *domain.Rematch, r *domain.Reweigh) { r.Stable = false }, "UNSTABLE_READING", ""},
		"typed":             {func(_ *domain.Rematch, r *domain.Reweigh) { r.Manual = true }, "REASON_REQUIRED", ""},
		"off the division":  {func(_ *domain.Rematch, r *domain.Reweigh) { r.Gross = 684_600 }, "OUT_OF_RANGE", ""},
		"lighter than tare": {func(_ *domain.Rematch, r *domain.Reweigh) { r.Gross = 42_000 }, "OUT_OF_RANGE", ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			m, r := rematch(), again(684_500)
			c.change(&m, &r)
			_, err := m.Judge(r, quantity.LB, time.UTC)
			if c.reason == "" {
				require.NoError(t, err)
				return
			}
			var refused *domain.Refusal
			require.ErrorAs(t, err, &refused)
			require.Equal(t, c.reason, refused.Reason())
			if c.state != "" {
				require.Equal(t, c.state, refused.Metadata()["state"])
			}
		})
	}
}

func TestResolvingAReview(t *testing.T) {
	t.Parallel()
	suspect := func(tag string, state domain.State, grosses ...quantity.Mass) domain.Suspect {
		s := domain.Suspect{State: state, Barrel: domain.Barrel{
			ID: uuid.NewSHA1(uuid.Nil, []byte(tag)), DrumTag: tag, Weigher: "users/dock1", Weighing: domain.Weighing{Gross: 684_500, Tare: 42_000},
		}}
		for i, g := range grosses {
			s.Reweighs = append(s.Reweighs, domain.Reweigh{
				Ordinal: i + 1, Gross: g, Previous: 684_500, TicketGross: 684_500, Tare: 42_000, Tolerance: 1_000, Weigher: "users/dock2",
			})
		}
		return s
	}
	kept, used, gone := suspect("A", domain.Closed, 684_000), suspect("B", domain.Closed, 681_000), suspect("C", domain.Voided)
	shipped, doubted := suspect("D", domain.Closed), suspect("E", domain.Closed, 681_000)
	doubted.Reweighs[0].Doubted = true
	review := domain.ScaleReview{Failed: domain.Check{Checker: "users/dock3"}}
	all := []domain.Suspect{kept, used, gone, shipped, doubted}
	at := time.Date(2026, 9, 15, 12, 0, 0, 0, time.UTC)

	refused := func(who string, by domain.Accepting, r domain.ScaleReview) *domain.Refusal {
		_, err := r.Resolve(all, by, who, at)
		var refusal *domain.Refusal
		require.ErrorAs(t, err, &refusal)
		return refusal
	}
	for _, who := range []string{"users/dock1", "users/dock2", "users/dock3"} {
		require.Equal(t, "SAME_PERSON", refused(who, domain.Accepting{Rest: "small"}, review).Reason())
	}
	require.Equal(t, "2", refused("users/office1", domain.Accepting{}, review).Metadata()["undecided"])
	require.ErrorContains(t, refused("users/office1", domain.Accepting{Notes: map[uuid.UUID]string{used.Barrel.ID: "let it pass"}}, review),
		"was weighed again, and that decides")
	require.ErrorContains(t, refused("users/office1", domain.Accepting{Notes: map[uuid.UUID]string{uuid.New(): "let it pass"}}, review), "is not in this review")

	by := domain.Accepting{Notes: map[uuid.UUID]string{shipped.Barrel.ID: "shipped"}, Rest: "within 0.6 %"}
	done, err := review.Resolve(all, by, "users/office1", at)
	require.NoError(t, err)
	require.Equal(t, []domain.Finding{
		{Barrel: kept.Barrel.ID, Outcome: domain.OriginalKept, Reweigh: 1, Net: 642_500, TicketNet: 642_500},
		{Barrel: used.Barrel.ID, Outcome: domain.ReweighUsed, Reweigh: 1, Net: 639_000, TicketNet: 642_500},
		{Barrel: gone.Barrel.ID, Outcome: domain.Withdrawn, Net: 642_500, TicketNet: 642_500},
		{Barrel: shipped.Barrel.ID, Outcome: domain.Accepted, Net: 642_500, TicketNet: 642_500, Note: "shipped"},
		{Barrel: doubted.Barrel.ID, Outcome: domain.Accepted, Net: 642_500, TicketNet: 642_500, Note: "within 0.6 %"},
	}, done.Findings)
	require.Equal(t, "RESOLVED", refused("users/office2", by, done).Metadata()["state"])
}
