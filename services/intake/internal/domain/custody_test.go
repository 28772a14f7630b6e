package domain_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
)

var drawn = time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)

type happened struct {
	kind  domain.CustodyKind
	place string
	seal  string
	hours int
}

func follow(t require.TestingT, steps ...happened) domain.Portion {
	p := domain.Portion{Sample: "2C4D6F8HJ", Letter: "C"}
	for _, s := range steps {
		at := drawn.Add(time.Duration(s.hours) * time.Hour)
		e, err := p.Add(domain.CustodyEvent{Kind: s.kind, Place: s.place, Seal: s.seal, Time: at}, at.Format(time.DateOnly), domain.Retention{})
		require.NoError(t, err)
		p.Events = append(p.Events, e)
	}
	return p
}

func TestChainOfCustody(t *testing.T) {
	t.Parallel()
	sealed, sent := happened{domain.Sealed, "dock", "S-1", 0}, happened{domain.Moved, "laboratory", "", 1}
	for name, c := range map[string]struct {
		steps  []happened
		broken string
	}{
		"holds": {[]happened{
			sealed, sent,
			{domain.Received, "laboratory", "S-1", 2},
			{domain.Opened, "laboratory", "S-1", 3},
			{domain.Sealed, "laboratory", "S-2", 4},
			{domain.Stored, "laboratory", "S-2", 5},
			{domain.Discarded, "laboratory", "", 6},
		}, ""},
		"three days under way":    {[]happened{sealed, sent, {domain.Received, "laboratory", "", 73}}, ""},
		"longer":                  {[]happened{sealed, sent, {domain.Received, "laboratory", "", 74}}, "portion C was on its way to laboratory for more than 72 hours"},
		"nobody sent it":          {[]happened{sealed, {domain.Received, "laboratory", "", 2}}, "portion C was received at laboratory, but nobody sent it there from dock"},
		"came elsewhere":          {[]happened{sealed, sent, {domain.Received, "office", "", 2}}, "portion C was received at office, but it was sent to laboratory"},
		"opened under way":        {[]happened{sealed, sent, {domain.Opened, "laboratory", "", 2}}, "portion C was opened at laboratory, but it was sent to laboratory and never received there"},
		"opened where it was not": {[]happened{sealed, {domain.Opened, "laboratory", "", 2}}, "portion C was opened at laboratory, but it was at dock"},
		"another seal":            {[]happened{sealed, sent, {domain.Received, "laboratory", "S-9", 2}}, "the seal of portion C read S-9, but it should be S-1"},
		"a seal on an open jar":   {[]happened{sealed, {domain.Opened, "dock", "", 1}, {domain.Stored, "dock", "S-1", 2}}, "the seal of portion C read S-1, but it should be none"},
		"sealed over":             {[]happened{sealed, {domain.Sealed, "dock", "S-2", 1}}, "portion C got seal S-2, but nobody said that seal S-1 was opened"},
		"opened too late":         {[]happened{sealed, {domain.Opened, "dock", "S-1", 24 * 366}}, "portion C was opened on 2027-09-15, after its date of 2027-09-14"},
		"opened on the last day":  {[]happened{sealed, {domain.Opened, "dock", "S-1", 24 * 365}}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			require.Equal(t, c.broken, follow(t, c.steps...).Broken())
		})
	}
}

func TestCustodyThatCannotBe(t *testing.T) {
	t.Parallel()
	refused := func(p domain.Portion, e domain.CustodyEvent) *domain.Refusal {
		_, err := p.Add(e, "2026-09-14", domain.Retention{})
		var r *domain.Refusal
		require.ErrorAs(t, err, &r)
		return r
	}
	at := drawn.Add(5 * time.Hour)
	fresh := domain.Portion{Sample: "2C4D6F8HJ", Letter: "C"}
	require.Equal(t, "NOT_SEALED", refused(fresh, domain.CustodyEvent{Kind: domain.Moved, Time: at}).Metadata()["state"])
	require.Equal(t, "seal", refused(fresh, domain.CustodyEvent{Kind: domain.Sealed, Time: at}).Field())
	require.Equal(t, "expire_date", refused(fresh, domain.CustodyEvent{Kind: domain.Sealed, Seal: "S-1", Expires: "2026-09-13", Time: at}).Field())
	begun := follow(t, happened{domain.Sealed, "dock", "S-1", 6})
	require.Equal(t, "OUT_OF_RANGE", refused(begun, domain.CustodyEvent{Kind: domain.Moved, Place: "laboratory", Time: at}).Reason())
	require.Equal(t, "expire_date", refused(begun, domain.CustodyEvent{Kind: domain.Moved, Expires: "2027-01-01", Time: at.Add(9 * time.Hour)}).Field())
	over := follow(t, happened{domain.Sealed, "dock", "S-1", 0}, happened{domain.Discarded, "dock", "", 1})
	require.Equal(t, "DISCARDED", refused(over, domain.CustodyEvent{Kind: domain.Opened, Place: "dock", Time: at}).Metadata()["state"])
	require.Empty(t, over.Seal())
}

// Whatever happens, a portion is in one place: the one of its last event; and once broken it stays broken.
func TestPortionIsInOnePlace(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := follow(t, happened{domain.Sealed, "dock", "S-0", 0})
		for i := range rapid.IntRange(1, 12).Draw(t, "events") {
			before := p.Broken()
			at := drawn.Add(time.Duration(i+1) * time.Hour)
			e, err := p.Add(domain.CustodyEvent{
				Kind: rapid.SampledFrom([]domain.CustodyKind{
					domain.Sealed, domain.Moved, domain.Received, domain.Opened, domain.Stored,
				}).Draw(t, "kind"),
				Place: rapid.SampledFrom([]string{"dock", "laboratory", "office"}).Draw(t, "place"),
				Seal:  rapid.SampledFrom([]string{"S-0", "S-1"}).Draw(t, "seal"), Time: at,
			}, at.Format(time.DateOnly), domain.Retention{})
			require.NoError(t, err)
			stays := e.Kind == domain.Moved && !p.InTransit() || e.Kind == domain.Received && p.InTransit() ||
				e.Kind != domain.Moved && e.Kind != domain.Received && !p.InTransit() && e.Place == p.Place()
			require.True(t, stays && (e.Kind != domain.Received || e.Place == p.Place()) || e.Gap != "", "%v after %v", e, p.Events)
			p.Events = append(p.Events, e)
			require.Equal(t, e.Place, p.Place())
			if before != "" {
				require.Equal(t, before, p.Broken())
			}
		}
	})
}

func TestDueDatesOfNoYearOfOurs(t *testing.T) {
	t.Parallel()
	for _, day := range []string{"1900-01-01", "2028-02-29", "2199-12-31"} {
		require.NoError(t, domain.DueDate(day))
	}
	for _, day := range []string{"", "2026-02-30", "0000-01-01", "0026-11-30", "1899-12-31", "2200-01-01", "9999-12-31"} {
		require.ErrorContains(t, domain.DueDate(day), "is not a date such as 2027-09-14", day)
	}
}
