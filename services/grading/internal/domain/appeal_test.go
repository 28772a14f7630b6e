package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

func day(t testing.TB, text string) time.Time {
	t.Helper()
	d, err := time.Parse(time.DateOnly, text)
	require.NoError(t, err)
	return d
}

// appealed is a certificate issued on 14 September 2026 with 19.4 % water.
func appealed(t testing.TB) *domain.Certificate {
	t.Helper()
	r := release(t)
	r.Standing[0] = reading(t, domain.MoisturePercent, "19.4", tech)
	c, err := r.Decide(house())
	require.NoError(t, err)
	c.ID, c.Number = uuid.New(), "G-2026-000001"
	c.AppealUntil = domain.House().AppealUntil(day(t, "2026-09-14"))
	return &c
}

func TestDaysAreCountedOnTheCooperativesCalendar(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	late := time.Date(2026, 9, 15, 4, 59, 0, 0, time.UTC) // 23:59 of the 14th
	require.Equal(t, day(t, "2026-09-14"), domain.Date(late, zone))
	// Thirty days across the end of summer time are thirty dates.
	require.Equal(t, day(t, "2026-11-14"), domain.House().AppealUntil(day(t, "2026-10-15")))
}

func TestAnAppealOnDay31IsTooLate(t *testing.T) {
	t.Parallel()
	c := appealed(t)
	a := &domain.Appeal{Certificate: c.ID, Factor: domain.Moisture, Stage: domain.Retest}
	require.NoError(t, domain.House().Open(a, c, false, nil, day(t, "2026-10-14")))
	err := domain.House().Open(a, c, false, nil, day(t, "2026-10-15"))
	var passed *domain.DeadlinePassedError
	require.ErrorAs(t, err, &passed)
	require.Equal(t, map[string]string{"ended": "2026-10-14"}, passed.Metadata())
	require.ErrorContains(t, err, "ended on 2026-10-14")
	require.ErrorContains(t, err, "before the board")
}

func TestTheLadderOfAppeals(t *testing.T) {
	t.Parallel()
	c := appealed(t)
	retest := domain.Appeal{ID: uuid.New(), Sample: "7KQ2XN", Factor: domain.Moisture, Stage: domain.Retest}
	referee := domain.Appeal{ID: uuid.New(), Sample: "7KQ2XN", Factor: domain.Moisture, Stage: domain.Referee}
	open := func(a domain.Appeal, on string, earlier ...domain.Appeal) error {
		return domain.House().Open(&a, c, false, earlier, day(t, on))
	}
	require.ErrorContains(t, open(referee, "2026-09-20"), "comes after a re-test")
	require.ErrorContains(t, open(retest, "2026-09-20", retest), "was appealed already")
	require.ErrorContains(t, open(referee, "2026-09-20", retest), "not decided yet")
	decided := retest
	decided.Decision = &domain.AppealDecision{Date: day(t, "2026-10-01")}
	require.NoError(t, open(referee, "2026-10-31", decided), "thirty days after the re-test was decided")
	require.ErrorContains(t, open(referee, "2026-11-01", decided), "ended on 2026-10-31")
	require.ErrorContains(t, open(retest, "2026-10-02", decided, referee), "whose result is final")
	require.ErrorContains(t, domain.House().Open(&retest, c, true, nil, day(t, "2026-09-20")), "was superseded")
	clarity := domain.Appeal{Factor: domain.Clarity, Stage: domain.Retest}
	require.ErrorContains(t, open(clarity, "2026-09-20"), "does not rest on clarity")
}

func secondLook(t testing.TB, stage domain.Stage, raw, analyst, laboratory string) (*domain.Appeal, error) {
	t.Helper()
	a := &domain.Appeal{ID: uuid.New(), Sample: "7KQ2XN", Factor: domain.Moisture, Stage: stage}
	r, err := a.Measure(domain.AppealReading{
		Reading: domain.Reading{ID: uuid.New(), Kind: domain.MoisturePercent, RawValue: raw, Analyst: analyst}, Laboratory: laboratory,
	}, []string{tech})
	a.Reading = &r
	return a, err
}

func TestTheSecondLookIsAnothers(t *testing.T) {
	t.Parallel()
	_, err := secondLook(t, domain.Retest, "18.9", tech, "")
	var same *domain.SamePersonError
	require.ErrorAs(t, err, &same)
	_, err = secondLook(t, domain.Retest, "18.9", "users/tech2", "Outside Laboratory")
	require.ErrorContains(t, err, "leave laboratory empty")
	_, err = secondLook(t, domain.Referee, "18.9", tech, " ")
	require.ErrorContains(t, err, "laboratory is missing")
	_, err = secondLook(t, domain.Referee, "1.89", tech, "Outside Laboratory")
	require.ErrorContains(t, err, "outside 12.0 to 25.0")
	a, err := secondLook(t, domain.Referee, "18.9", tech, "Outside Laboratory, report 4711")
	require.NoError(t, err, "who types the report in did not measure it")
	_, err = a.Measure(domain.AppealReading{}, nil)
	require.ErrorContains(t, err, "measured already")
	color := &domain.Appeal{Factor: domain.Color, Stage: domain.Retest}
	_, err = color.Measure(domain.AppealReading{Reading: domain.Reading{Kind: domain.MoisturePercent, RawValue: "18.9"}}, nil)
	require.ErrorContains(t, err, "is about colour")
}

// Bad day: the referee finds 18.9 where we found 19.4. Two readings of the same honey may be 0.2 apart.
func TestOnlyAMaterialDifferenceOverturns(t *testing.T) {
	t.Parallel()
	original := reading(t, domain.MoisturePercent, "19.4", tech)
	for raw, upheld := range map[string]bool{"18.9": true, "19.1": true, "19.2": false, "19.4": false, "19.6": false, "19.7": true} {
		a, err := secondLook(t, domain.Referee, raw, "users/tech2", "Outside Laboratory")
		require.NoError(t, err)
		d, err := domain.House().Decide(a, &original, lead)
		require.NoError(t, err)
		require.Equal(t, upheld, d.Upheld, raw)
		a.Decision = &d
		require.Equal(t, map[bool]string{true: "REFUNDED", false: "DUE"}[upheld], a.Fee())
	}
	a, err := secondLook(t, domain.Referee, "18.9", "users/tech2", "Outside Laboratory")
	require.NoError(t, err)
	d, err := domain.House().Decide(a, &original, lead)
	require.NoError(t, err)
	require.Equal(t, "Water read 18.9 %, the certificate says 19.4 %: a difference of 0.5 %, more than the 0.2 % that two readings of the same honey may be apart, so the new result takes its place.", d.Explanation)
	accepted := a.Accepted(&original)
	require.Equal(t, original.ID, *accepted.Replaces)
	require.Equal(t, "Outside Laboratory", accepted.Instrument)
	require.Equal(t, "appeal upheld (referee)", accepted.Reason)
}

func TestWhoMeasuredDoesNotDecide(t *testing.T) {
	t.Parallel()
	original := reading(t, domain.MoisturePercent, "19.4", tech)
	a, err := secondLook(t, domain.Retest, "18.9", "users/tech2", "")
	require.NoError(t, err)
	for _, involved := range []string{tech, "users/tech2"} {
		_, err := domain.House().Decide(a, &original, involved)
		var same *domain.SamePersonError
		require.ErrorAs(t, err, &same)
	}
	d, err := domain.House().Decide(a, &original, lead)
	require.NoError(t, err)
	a.Decision = &d
	require.Equal(t, "NONE", a.Fee())
	_, err = domain.House().Decide(a, &original, lead)
	require.ErrorContains(t, err, "decided already")
	a.Decision, a.Reading = nil, nil
	_, err = domain.House().Decide(a, &original, lead)
	require.ErrorContains(t, err, "not measured yet")
}
