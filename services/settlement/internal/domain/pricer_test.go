package domain_test

import (
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/settlement/internal/domain"
)

func situation(t testing.TB) domain.Situation {
	c := certificate(t, "19.2", "WHITE", "A")
	return domain.Situation{Barrel: barrel(t, "640.0", "clover"), Counts: true, Certificate: &c}
}

func standing(s domain.Situation) *domain.Standing {
	return &domain.Standing{
		Payouts: []uuid.UUID{domain.PayoutID(s.Barrel, s.Certificate.ID, domain.Advance)}, Ticket: s.Barrel.Ticket,
		TicketNumber: s.Barrel.TicketNumber, Certificate: s.Certificate.ID, CertificateNumber: s.Certificate.Number,
		Schedule: uuid.MustParse("00000000-0000-4000-8000-0000000000a1"),
	}
}

func decide(t testing.TB, s domain.Situation, schedules ...*domain.Schedule) domain.Decision {
	d, err := domain.NewPricer(schedules, nil, domain.DefaultHoldPolicy(), pounds).Decide(s, noon)
	require.NoError(t, err)
	return d
}

func TestWaitingIsAlwaysExplained(t *testing.T) {
	t.Parallel()
	s := situation(t)
	require.Equal(t, "no schedule is adopted for crop year 2026 and deliveries of 2026-09-14", decide(t, s).Waiting)
	s.Certificate.ColorClass, s.Certificate.Grade = "DARK_AMBER", "C"
	require.Equal(t, "no adopted schedule has a price for clover, dark amber, grade C", decide(t, s, schedule(t)).Waiting)
	s.Certificate = nil
	require.Equal(t, "waiting for its certificate", decide(t, s, schedule(t)).Waiting)
}

func TestHoldsByPolicy(t *testing.T) {
	t.Parallel()
	for code, blocks := range map[string]bool{
		"QUALITY": true, "RESIDUE": true, "AUTHENTICITY": true, "FERMENTATION": true, "SCALE": true, "RECALL": true,
		"DOCUMENTS": false, "CUSTOMER": false, "SOMETHING_NEW": true,
	} {
		s := situation(t)
		s.Holds = []string{"CUSTOMER", code}
		d := decide(t, s, schedule(t))
		require.Equal(t, blocks, len(d.Advances) == 0, code)
		require.Equal(t, blocks, d.Waiting != "", code)
	}
	s := situation(t)
	s.Holds = []string{"SCALE"}
	require.Equal(t, "on hold while the scale it was weighed on is under review; the advance is priced when the hold is released",
		decide(t, s, schedule(t)).Waiting)
}

func TestPricedBarrelIsLeftAlone(t *testing.T) {
	t.Parallel()
	s := situation(t)
	s.Standing = standing(s)
	s.Holds = []string{"RESIDUE"}
	dearer := schedule(t)
	dearer.ID[0]++
	dearer.Version, dearer.Effective, dearer.Rows[0].Advance = 2, "2026-08-01", price(t, "2.00")
	require.Equal(t, domain.Decision{}, decide(t, s, schedule(t), dearer))
}

func TestCorrectionUsesTheOriginalPrices(t *testing.T) {
	t.Parallel()
	s := situation(t)
	s.Standing = standing(s)
	s.Barrel.Ticket[0]++
	s.Barrel.TicketNumber, s.Barrel.Member = "FC-2026-000744", "members/M-0002"
	s.Holds = []string{"RESIDUE"}
	dearer := schedule(t)
	dearer.ID[0]++
	dearer.Version, dearer.Effective, dearer.Rows[0].Advance = 2, "2026-08-01", price(t, "2.00")
	d := decide(t, s, schedule(t), dearer)
	require.Equal(t, "ticket FC-2026-000731 was void and ticket FC-2026-000744 replaces it", d.Reverse)
	require.Equal(t, "members/M-0002", d.Advances[0].Barrel.Member)
	require.Equal(t, s.Standing.Schedule, d.Advances[0].Schedule)

	s.Certificate.ColorClass = "AMBER"
	dearer.Rows = append(dearer.Rows, domain.PriceRow{ColorClass: "AMBER", Grade: "A", Advance: price(t, "0.80")})
	require.Equal(t, dearer.ID, decide(t, s, schedule(t), dearer).Advances[0].Schedule, "the original has no such cell")
}

func TestReplacedCertificateAndVoidedTicket(t *testing.T) {
	t.Parallel()
	s := situation(t)
	s.Standing = standing(s)
	s.Certificate.ID[0]++
	s.Certificate.Number, s.Certificate.Water = "G-2026-000420", percent(t, "18.9")
	s.Supersession = "referee reading"
	d := decide(t, s, schedule(t))
	require.Equal(t, "certificate G-2026-000412 was replaced by G-2026-000420 (referee reading)", d.Reverse)
	require.Equal(t, "637.6", d.Advances[0].Payable.String())

	s.Counts = false
	d = decide(t, s, schedule(t))
	require.Equal(t, domain.Decision{Reverse: "ticket FC-2026-000731 was voided"}, d)
	s.Standing = nil
	require.Equal(t, domain.Decision{}, decide(t, s, schedule(t)))
}
