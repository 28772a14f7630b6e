package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/quantity"
)

// dock is a floor scale of 1000 lb in half pounds: 2000 divisions.
func dock() domain.Scale {
	return domain.Scale{ID: "2", Description: "Dock floor scale", Division: 500, Capacity: 1_000_000, Class: domain.ClassIII}
}

func refusal(t testing.TB, err error) apierr.Details {
	t.Helper()
	require.Error(t, err)
	return apierr.Parse(apierr.From(err))
}

func TestScaleMustBePossible(t *testing.T) {
	t.Parallel()
	require.NoError(t, dock().Validate(lb))
	for name, c := range map[string]struct {
		change func(*domain.Scale)
		field  string
	}{
		"no class":             {func(s *domain.Scale) { s.Class = "" }, "scale.accuracy_class"},
		"no division":          {func(s *domain.Scale) { s.Division = 0 }, "scale.division"},
		"no capacity":          {func(s *domain.Scale) { s.Capacity = 0 }, "scale.capacity"},
		"capacity off":         {func(s *domain.Scale) { s.Capacity += 200 }, "scale.capacity"},
		"too few divisions":    {func(s *domain.Scale) { s.Capacity = 99 * 500 }, "scale.capacity"},
		"too many divisions":   {func(s *domain.Scale) { s.Capacity = 10_001 * 500 }, "scale.capacity"},
		"no description":       {func(s *domain.Scale) { s.Description = "" }, "scale.description"},
		"not a date":           {func(s *domain.Scale) { s.CertificateExpireDate = "2026-02-30" }, "scale.certificate_expire_date"},
		"class II too coarse":  {func(s *domain.Scale) { s.Class = domain.ClassII }, "scale.capacity"},
		"class III L too fine": {func(s *domain.Scale) { s.Class, s.Capacity = domain.ClassIIL, 1_999*500 }, "scale.capacity"},
	} {
		s := dock()
		c.change(&s)
		d := refusal(t, s.Validate(lb))
		require.Equal(t, "FIELD_INVALID", d.Reason, name)
		require.Equal(t, c.field, d.Metadata["field"], name)
	}
	s := dock()
	s.Class, s.Description = "", ""
	require.Len(t, refusal(t, s.Validate(lb)).Faults, 2)
}

func TestLimitsOfAScale(t *testing.T) {
	t.Parallel()
	require.Equal(t, "10.0", dock().Least().String(), "20 divisions")
	require.Equal(t, "1050.0", dock().Most().String(), "105 % of capacity")
}

// At the recommended minimum load a weight is taken, a division below it is not. 20 d for class III and 50 d for class III L: the
// rules in testdata/published/hb44_tolerances.csv (NIST Handbook 44, section 2.20, Table 8, from memory); 50 d for class II is
// from memory of the same table.
func TestTheMinimumLoadOnBothSides(t *testing.T) {
	t.Parallel()
	for class, c := range map[domain.Class]struct{ capacity, least quantity.Mass }{
		domain.ClassII: {5_000, 50}, domain.ClassIII: {2_000, 20}, domain.ClassIIL: {2_000, 50},
	} {
		s := dock()
		s.Class, s.Capacity = class, c.capacity*s.Division
		require.NoError(t, s.Validate(lb))
		for gross, fits := range map[quantity.Mass]bool{c.least * s.Division: true, (c.least - 1) * s.Division: false, s.Most(): true, s.Most() + s.Division: false} {
			err := s.Weigh(domain.Weighing{Gross: gross, Tare: 1, TareKind: domain.TareStencilled, Stable: true}, lb)
			require.Equal(t, fits, err == nil, "class %s, %s: %v", class, gross, err)
		}
	}
}

func TestClosingNeedsAPassingCheckToday(t *testing.T) {
	t.Parallel()
	s := dock()
	require.NoError(t, s.MayWeigh())
	for name, c := range map[string]struct {
		check *domain.Check
		text  string
	}{
		"never":     {nil, "scale 2 was never checked: check it with the test weights, then close the ticket"},
		"yesterday": {&domain.Check{Passed: true, Date: "2026-09-13"}, "scale 2 has no passing check today (the last was on 2026-09-13): check it with the test weights, then close the ticket"},
		"failed":    {&domain.Check{Date: "2026-09-14"}, "scale 2 failed its check on 2026-09-14: use another scale until it was put right and checked again"},
	} {
		s.LastCheck = c.check
		d := refusal(t, s.MayClose("2026-09-14"))
		require.Equal(t, "SCALE_CHECK_MISSING", d.Reason, name)
		require.Equal(t, "scales/2", d.Metadata["scale"], name)
		require.Equal(t, c.text, d.Message)
	}
	s.LastCheck = &domain.Check{Date: "2026-09-14"}
	require.Error(t, s.MayWeigh(), "the newest check failed")
	s.LastCheck = &domain.Check{Passed: true, Date: "2026-09-14"}
	require.NoError(t, s.MayClose("2026-09-14"))
	require.NoError(t, s.MayWeigh())
}
