package domain_test

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/intake/internal/domain"
	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
)

const (
	lb       = quantity.LB
	division = quantity.Mass(500)
)

// halves reads "1.5" divisions as 3 half divisions.
func halves(t *testing.T, row published.Row, column string) quantity.Mass {
	t.Helper()
	v, err := quantity.ParseFixed(row.Text(column), 1)
	require.NoError(t, err)
	return quantity.Mass(v / 5)
}

// Both sides of every step of the published table, in both columns: at its last division a step still holds, half a
// division further the next one does.
func TestToleranceFollowsThePublishedTable(t *testing.T) {
	t.Parallel()
	tried := 0
	for _, row := range published.Load(t, "hb44_tolerances.csv") {
		class := domain.Class(row.Text("class"))
		if strings.HasPrefix(string(class), "rule") {
			continue
		}
		for column, kind := range map[string]domain.Column{
			"acceptance_plus_minus_d": domain.Acceptance, "maintenance_plus_minus_d": domain.Maintenance,
		} {
			want := halves(t, row, column) * division / 2
			from, err := strconv.ParseInt(row.Text("divisions_from"), 10, 64)
			require.NoError(t, err)
			first := quantity.Mass(from) * division
			require.Equal(t, want, domain.Tolerance(class, kind, first, division), "%s", row)
			if from > 0 {
				require.Equal(t, want, domain.Tolerance(class, kind, first-division/2, division), "%s", row)
				require.Less(t, domain.Tolerance(class, kind, first-division, division), want, "%s", row)
			}
			if row.Text("divisions_to") == "" {
				continue
			}
			to, err := strconv.ParseInt(row.Text("divisions_to"), 10, 64)
			require.NoError(t, err)
			last := quantity.Mass(to) * division
			require.Equal(t, want, domain.Tolerance(class, kind, last, division), "%s", row)
			tried++
		}
	}
	require.Equal(t, 20, tried)
}

// NIST Handbook 44, section 2.20, Table 6, from memory: class III L goes on by one division for each further 500.
func TestVehicleScalesGoOnBeyondTheTable(t *testing.T) {
	t.Parallel()
	require.Equal(t, 5*division, domain.Tolerance(domain.ClassIIL, domain.Maintenance, 2_001*division, division))
	require.Equal(t, 20*division, domain.Tolerance(domain.ClassIIL, domain.Maintenance, 10_000*division, division))
	require.Equal(t, 10*division, domain.Tolerance(domain.ClassIIL, domain.Acceptance, 10_000*division, division))
}

// The worked examples that public pages give for whole loads.
func TestPublishedLoads(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		class          domain.Class
		column         domain.Column
		load, division string
		want           string
	}{
		// A metrology forum thread: 150 lb in steps of 0.05 lb are 3000 divisions, allowed 3.
		"150 lb": {domain.ClassIII, domain.Maintenance, "150", "0.05", "0.15"},
		// Weigh module handbook (12/99), p. 3-16, and NIST Handbook 133 (2026), Table 2-2.
		"1000 d": {domain.ClassIII, domain.Acceptance, "1000", "1", "1.0"},
		"5000 d": {domain.ClassIII, domain.Acceptance, "5000", "1", "2.5"},
		// NIST Handbook 133 (2026), chapter 2, worked example: 1500 g in steps of 0.1 g on class II.
		"1500 g": {domain.ClassII, domain.Acceptance, "1500", "0.1", "0.1"},
		// Computed from the table: a barrel of 300 kg in steps of 0.2 kg, and one of 690 lb in steps of half a pound.
		"300 kg": {domain.ClassIII, domain.Maintenance, "300", "0.2", "0.4"},
		"690 lb": {domain.ClassIII, domain.Maintenance, "690", "0.5", "1.0"},
	} {
		got := domain.Tolerance(c.class, c.column, mass(t, c.load), mass(t, c.division))
		require.Equal(t, c.want, got.String(), name)
	}
}

func TestToleranceNeverShrinksWithTheLoad(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		class := rapid.SampledFrom([]domain.Class{domain.ClassII, domain.ClassIII, domain.ClassIIL}).Draw(t, "class")
		d := quantity.Mass(rapid.Int64Range(1, 5_000).Draw(t, "division"))
		small := quantity.Mass(rapid.Int64Range(0, 1_000_000).Draw(t, "small")) * d / 10
		large := small + quantity.Mass(rapid.Int64Range(0, 1_000_000).Draw(t, "more"))
		for _, column := range []domain.Column{domain.Acceptance, domain.Maintenance} {
			require.LessOrEqual(t, domain.Tolerance(class, column, small, d), domain.Tolerance(class, column, large, d))
		}
		require.Equal(t, domain.Tolerance(class, domain.Maintenance, large, 2*d), 2*domain.Tolerance(class, domain.Acceptance, large, 2*d))
	})
}

func mass(t testing.TB, s string) quantity.Mass {
	t.Helper()
	m, err := quantity.ParseMass(s)
	require.NoError(t, err)
	return m
}
