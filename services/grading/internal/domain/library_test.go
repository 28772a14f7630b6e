package domain_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

func TestEveryFigureSaysWhereItIsFrom(t *testing.T) {
	t.Parallel()
	for _, s := range domain.Published().All() {
		require.NotEmpty(t, len(s.Limits())+len(s.Colors()), s.ID)
		require.Regexp(t, `^\d{4}-\d{2}-\d{2}$`, s.EffectiveDate)
		for _, l := range s.Limits() {
			require.NotEmpty(t, l.Source, "%s %s", s.ID, l.Text())
			require.NotEmpty(t, l.Provenance, "%s %s", s.ID, l.Text())
		}
		for _, c := range s.Colors() {
			require.NotEmpty(t, c.Source, "%s %s", s.ID, c.ID)
		}
		for _, sw := range s.Switches {
			require.NotEmpty(t, sw.Meaning, "%s %s", s.ID, sw.ID)
			require.True(t, sw.Provisional(), "what was read in print needs no switch: %s", sw.ID)
		}
	}
}

func TestUnknownStandardIsNotFound(t *testing.T) {
	t.Parallel()
	_, err := domain.Published().InForce("standards/none", "2026-09-14")
	var missing *domain.NotFoundError
	require.ErrorAs(t, err, &missing)
	require.Equal(t, map[string]string{"resource": "standards/none"}, missing.Metadata())
	_, err = domain.StandardText("../standards/none")
	require.ErrorAs(t, err, &missing)
}

func TestADataFileThatIsWrongIsRefused(t *testing.T) {
	t.Parallel()
	text, err := domain.StandardText(domain.HouseStandard)
	require.NoError(t, err)
	for name, c := range map[string]struct{ old, with, fault string }{
		"unknown name":         {`"version"`, `"verison"`, "unknown field"},
		"binary number":        {`"at_most": "20.0"`, `"at_most": 20.0`, "cannot unmarshal number"},
		"stricter below":       {`"at_most": "20.0"`, `"at_most": "18.0"`, "C asks more than the grade above it"},
		"no source":            {`"source": "restated"`, `"source": "hearsay"`, `source "hearsay"`},
		"no provenance":        {`"provenance": "read"`, `"provenance": "surely"`, `provenance "surely"`},
		"unknown grade":        {`{"grade": "B", "at_most"`, `{"grade": "D", "at_most"`, `unknown grade "D"`},
		"limit of the last":    {`{"grade": "C", "at_most"`, `{"grade": "SUBSTANDARD", "at_most"`, "takes what falls through"},
		"unknown factor":       {`"factor": "FLAVOR"`, `"factor": "SWEETNESS"`, `unknown factor`},
		"unknown style":        {`"FILTERED"`, `"SIEVED"`, `unknown style`},
		"unknown switch":       {`"switch": "clarity-limits"`, `"switch": "clarity"`, `unknown switch "clarity"`},
		"scale falls":          {`"to": "34"`, `"to": "16"`, "the scale must rise"},
		"hole in the scale":    {`"to": "85", `, ``, "only the last class has no upper bound"},
		"two bounds":           {`"at_most": "20.0"`, `"at_most": "20.0", "at_least": "12"`, "give one of"},
		"nothing to scale":     {`"from": "90"`, `"from": "0"`, "two positive numbers"},
		"too fine":             {`"at_most": "20.0"`, `"at_most": "20.00001"`, "more than 4 digits"},
		"no title":             {`"title": "United`, `"title": "", "source": "United`, "are required"},
		"condition of nothing": {`"at_most": "20.0"`, `"at_most": "20.0", "when": {"words": "always"}`, "something to compare"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			changed := strings.Replace(string(text), c.old, c.with, 1)
			require.NotEqual(t, string(text), changed)
			_, err := domain.ParseStandard([]byte(changed))
			require.ErrorContains(t, err, c.fault)
		})
	}
}

func TestAStandardNeedsTwoOutcomes(t *testing.T) {
	t.Parallel()
	_, err := domain.ParseStandard([]byte(`{"id":"x","title":"x","version":"1","effective_date":"2026-01-01","source":"x"}`))
	require.ErrorContains(t, err, "at least two outcomes")
}
