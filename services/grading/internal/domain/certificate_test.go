package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/checkdigit"
)

const tech, lead = "users/tech1", "users/lead1"

func reading(t testing.TB, kind domain.Kind, raw, analyst string) domain.Reading {
	t.Helper()
	r, err := domain.NewReading(domain.Reading{
		ID: uuid.New(), Sample: "7KQ2XN", Kind: kind, RawValue: raw, Analyst: analyst, Time: time.Unix(1_789_000_000, 0),
	}, nil)
	require.NoError(t, err)
	return r
}

func bench(t testing.TB) []domain.Reading {
	t.Helper()
	return []domain.Reading{
		reading(t, domain.MoisturePercent, "17.4", tech), reading(t, domain.PfundMM, "42", tech),
		reading(t, domain.FlavorPoints, "46", tech), reading(t, domain.DefectsPoints, "38", tech),
	}
}

func release(t testing.TB) domain.Release {
	t.Helper()
	return domain.Release{
		Sample: domain.Sample{Code: "7KQ2XN", Variety: "clover", CropYear: 2026}, Standing: bench(t),
		Analysts: []string{tech}, Releaser: lead,
	}
}

func TestReleaseJudgesWhatWasReported(t *testing.T) {
	t.Parallel()
	r := release(t)
	c, err := r.Decide(house())
	require.NoError(t, err)
	require.Equal(t, "A", c.Decision.Grade)
	require.Equal(t, "EXTRA_LIGHT_AMBER", c.Decision.ColorClass)
	require.Equal(t, "17.4", c.Decision.Moisture)
	require.Equal(t, "standards/us-extracted-1985", c.Decision.Standard)
	require.Equal(t, "1985-1", c.Decision.StandardVersion)
	require.Len(t, c.Readings, 4)
	require.Nil(t, c.Supersedes)
	require.Equal(t, lead, c.Releaser)
	require.Equal(t, "clover", c.Variety)
}

func TestReleaseRefusals(t *testing.T) {
	t.Parallel()
	r := release(t)
	c, err := r.Decide(house())
	require.NoError(t, err)
	for name, test := range map[string]struct {
		change          func(*domain.Release)
		reason, message string
	}{
		"same person":         {func(r *domain.Release) { r.Releaser = tech }, "SAME_PERSON", "may not release"},
		"measured in between": {func(r *domain.Release) { r.Analysts = append(r.Analysts, lead) }, "SAME_PERSON", "may not release"},
		"unmeasured": {
			func(r *domain.Release) { r.Standing = r.Standing[:2] }, "STATE_FORBIDS", "no reading of flavour and absence of defects",
		},
		"unmeasured clarity": {func(r *domain.Release) { r.Style = domain.Filtered }, "STATE_FORBIDS", "no reading of clarity"},
		"anew without reason": {
			func(r *domain.Release) { r.Previous = &c; r.Reason = "  " }, "REASON_REQUIRED", "why it is issued anew",
		},
		"anew without reading": {
			func(r *domain.Release) { r.Previous = &c; r.Reason, r.Standing = "asked", c.Readings }, "STATE_FORBIDS", "same readings",
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			again := release(t)
			test.change(&again)
			_, err := again.Decide(house())
			require.ErrorContains(t, err, test.message)
			var named interface {
				Reason() string
				Metadata() map[string]string
			}
			require.ErrorAs(t, err, &named)
			require.Equal(t, test.reason, named.Reason())
			require.NotEmpty(t, named.Metadata())
		})
	}
}

func TestReleaseAnewNamesWhatItReplaces(t *testing.T) {
	t.Parallel()
	first := release(t)
	c, err := first.Decide(house())
	require.NoError(t, err)
	c.ID = uuid.New()
	again := release(t)
	again.Previous, again.Reason = &c, "re-read after cleaning the prism"
	next, err := again.Decide(house())
	require.NoError(t, err)
	require.Equal(t, c.ID, *next.Supersedes)
	require.Equal(t, "re-read after cleaning the prism", next.Reason)
}

func TestSecondReadingNeedsAReason(t *testing.T) {
	t.Parallel()
	first := reading(t, domain.MoisturePercent, "17.4", tech)
	again := domain.Reading{ID: uuid.New(), Kind: domain.RefractiveIndex, RawValue: "1.4915", Analyst: lead}
	_, err := domain.NewReading(again, &first)
	var required *domain.ReasonRequiredError
	require.ErrorAs(t, err, &required)
	require.Equal(t, map[string]string{"field": "reason", "reading": first.Name()}, required.Metadata())
	require.Equal(t, "reason", required.Field())
	require.ErrorContains(t, err, "17.4 % by users/tech1")
	again.Reason = "air bubble"
	second, err := domain.NewReading(again, &first)
	require.NoError(t, err)
	require.Equal(t, first.ID, *second.Replaces)
	require.Equal(t, value(t, "18.0"), second.Reported)
}

func TestSampleCodeCatchesMistakes(t *testing.T) {
	t.Parallel()
	check, err := checkdigit.Code("7KQ2X")
	require.NoError(t, err)
	code, err := domain.SampleCode("sample", "samples/7kq2x"+check)
	require.NoError(t, err)
	require.Equal(t, "7KQ2X"+check, code)
	for _, wrong := range []string{"", "samples/", "samples/7", "barrels/7KQ2X" + check, "samples/7KQ3X" + check, "samples/K7Q2X" + check, "samples/7KQ2X " + check} {
		_, err := domain.SampleCode("sample", wrong)
		var field *domain.FieldError
		require.ErrorAs(t, err, &field, wrong)
		require.Equal(t, "sample", field.Field())
	}
}

func TestStateOfSample(t *testing.T) {
	t.Parallel()
	has := func(factors ...domain.Factor) func(domain.Factor) bool {
		return func(f domain.Factor) bool {
			for _, m := range factors {
				if m == f {
					return true
				}
			}
			return false
		}
	}
	every := has(domain.Moisture, domain.Color, domain.Flavor, domain.Defects)
	require.Equal(t, domain.Waiting, domain.StateOf(house(), has(), false, false))
	require.Equal(t, domain.Waiting, domain.StateOf(house(), has(domain.Moisture, domain.Color, domain.Flavor), false, false))
	require.Equal(t, domain.Measured, domain.StateOf(house(), every, false, false))
	require.Equal(t, domain.Certified, domain.StateOf(house(), every, false, true))
	require.Equal(t, domain.Pending, domain.StateOf(house(), every, true, true))
	require.Equal(t, "MEASURED", domain.Measured.String())
}

func TestCertificateNumber(t *testing.T) {
	t.Parallel()
	require.Equal(t, "G-2026-000412", domain.CertificateNumber(2026, 412))
}
