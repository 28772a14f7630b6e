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

func TestReviewListsEachTicketOnceByNumber(t *testing.T) {
	t.Parallel()
	first, second := uuid.New(), uuid.New()
	r := domain.ScaleReview{ID: uuid.New(), Doubts: []domain.Doubt{
		{Barrel: uuid.New(), Ticket: second, Number: domain.Number{Site: "FC", Year: 2026, Ordinal: 12}},
		{Barrel: uuid.New(), Ticket: first, Number: domain.Number{Site: "FC", Year: 2026, Ordinal: 9}},
		{Barrel: uuid.New(), Ticket: second, Number: domain.Number{Site: "FC", Year: 2026, Ordinal: 12}},
	}}
	require.Equal(t, []uuid.UUID{first, second}, r.Tickets())
	require.Equal(t, "scaleReviews/"+r.ID.String(), r.Name())
}

func TestEmptiedDrumIsComparedWithItsTicket(t *testing.T) {
	t.Parallel()
	drum := domain.Drum{Tag: "FC-00442", Fill: &domain.Fill{
		Barrel: uuid.New(), Ticket: domain.Ticket{ID: uuid.New(), Member: "M-0007"}, Tare: 38_000, TareKind: domain.TareStencilled,
	}}
	for empty, correction := range map[quantity.Mass]string{0: "", 38_000: "", 40_000: "", 36_000: "", 40_001: "-2.001", 35_500: "2.5", 47_000: "-9.0"} {
		v := drum.Variance(domain.Release{EmptyWeight: empty, Releaser: "users/warehouse1"}, domain.TarePolicy(lb))
		if correction == "" {
			require.Nil(t, v, "%s", empty)
			continue
		}
		require.NotNil(t, v, "%s", empty)
		require.Equal(t, correction, v.NetCorrection().String())
		require.Equal(t, "M-0007", v.Member)
		require.Equal(t, "users/warehouse1", v.Finder)
	}
	require.Equal(t, quantity.Mass(900), domain.TarePolicy(quantity.KG))
}

func TestAccountOfNumbers(t *testing.T) {
	t.Parallel()
	entry := func(n int64, s domain.State) domain.NumberEntry {
		return domain.NumberEntry{Number: domain.Number{Site: "FC", Year: 2026, Ordinal: n}, State: s}
	}
	r := domain.Account("FC", 2026, 6, []domain.NumberEntry{entry(2, domain.Closed), entry(3, domain.Voided), entry(5, domain.Open)})
	require.Equal(t, map[domain.State]int64{domain.Closed: 1, domain.Voided: 1, domain.Open: 1}, r.Counts)
	require.Equal(t, []domain.NumberEntry{entry(3, domain.Voided), entry(5, domain.Open)}, r.Exceptions)
	var missing []string
	for _, n := range r.Missing {
		missing = append(missing, n.String())
	}
	require.Equal(t, []string{"FC-2026-000001", "FC-2026-000004", "FC-2026-000006"}, missing)
	require.Empty(t, domain.Account("FC", 2026, 0, nil).Missing)
}

// Whatever is lost, numbers found and numbers missing are together all that were given.
func TestAccountAddsUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		last := rapid.Int64Range(0, 200).Draw(t, "last")
		lost := rapid.MapOf(rapid.Int64Range(1, 200), rapid.Bool()).Draw(t, "lost")
		var entries []domain.NumberEntry
		for n := int64(1); n <= last; n++ {
			if !lost[n] {
				state := rapid.SampledFrom([]domain.State{domain.Open, domain.Closed, domain.Voided, domain.Superseded, domain.Cancelled}).Draw(t, "state")
				entries = append(entries, domain.NumberEntry{Number: domain.Number{Site: "FC", Year: 2026, Ordinal: n}, State: state})
			}
		}
		r := domain.Account("FC", 2026, last, entries)
		counted := int64(len(r.Missing))
		for _, n := range r.Counts {
			counted += n
		}
		require.Equal(t, last, counted)
		require.Len(t, r.Exceptions, len(entries)-int(r.Counts[domain.Closed]))
	})
}

func TestSpanOfLocalDates(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	span, err := domain.DaysBetween("2026-10-31", "2026-11-01", zone)
	require.NoError(t, err)
	require.Equal(t, 49*time.Hour, span.Until.Sub(span.From), "the clocks go back on the second day")
	for _, c := range [][3]string{{"2026-02-30", "2026-03-01", "from_date"}, {"2026-03-01", "2026-02-30", "to_date"}, {"2026-03-02", "2026-03-01", "to_date"}} {
		_, err := domain.DaysBetween(c[0], c[1], zone)
		require.Equal(t, c[2], refusal(t, err).Metadata["field"])
	}
}

func TestScaleAsksForCare(t *testing.T) {
	t.Parallel()
	s := dock()
	s.Care = domain.Care{CornerDate: "2026-09-07", SealOnRecord: "S-114"}
	s.CertificateExpireDate = "2026-10-15"
	s.LastCheck = &domain.Check{Seal: "S-114"}
	require.Empty(t, s.Warnings("2026-09-14"), "31 days and 7 days are both in time")
	require.Equal(t, []string{
		"the certificate of scale 2 lapses on 2026-10-15, in 30 days: have it renewed",
		"the corners of scale 2 were last tried on 2026-09-07, 8 days ago: put a weight on A, B, C and D in one check",
	}, s.Warnings("2026-09-15"))
	s.Care.CornerDate, s.LastCheck.Seal = "", "S-115"
	require.Equal(t, []string{
		"the certificate of scale 2 lapsed on 2026-10-15: have it renewed",
		"the seal of scale 2 read S-115 at the last check, but S-114 is on record: find out who opened it, then make an acceptance check",
		"the corners of scale 2 were never tried: put a weight on A, B, C and D in one check",
	}, s.Warnings("2026-10-16"))
	require.Contains(t, s.Warnings("2026-10-15")[0], "in 0 days")
	s.CertificateExpireDate, s.LastCheck = "", nil
	require.Len(t, s.Warnings("2026-10-16"), 1)
}

func TestCornersNeedAllFour(t *testing.T) {
	t.Parallel()
	var c domain.Check
	for _, position := range []string{"A", "B", "C"} {
		c.Loads = append(c.Loads, domain.Load{Known: 50_000, Position: position})
	}
	require.False(t, c.Corners())
	c.Loads = append(c.Loads, domain.Load{Position: "D"})
	require.False(t, c.Corners(), "nothing was put on D")
	c.Loads = append(c.Loads, domain.Load{Known: 50_000, Position: "D"})
	require.True(t, c.Corners())
}
