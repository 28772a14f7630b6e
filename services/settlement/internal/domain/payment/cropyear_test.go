package payment_test

import (
	"fmt"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain/payment"
)

func yearly(id byte, year int, percent quantity.Percent) *payment.Encumbrance {
	e := right(id, payment.Lien, fmt.Sprintf("Lender %d", id), percent)
	e.CropYear = year
	return e
}

func TestANoticeOfACropYearTakesOfItAlone(t *testing.T) {
	t.Parallel()
	unclear := yearly(1, 2025, 100_00)
	unclear.Unresolved = true
	limited := yearly(1, 2026, 100_00)
	limited.Limit = 50_00
	for _, c := range []struct {
		what    string
		years   payment.ByYear
		notices []*payment.Encumbrance
		want    string
	}{
		{"of its year", payment.ByYear{2025: 400_00, 2026: 600_00}, []*payment.Encumbrance{yearly(1, 2025, 50_00)}, "[Lender 1 200.00 Orchard Hill 800.00]"},
		{"of another year", payment.ByYear{2026: 1000_00}, []*payment.Encumbrance{yearly(1, 2025, 50_00)}, "[Orchard Hill 1000.00]"},
		{"of no year", payment.ByYear{0: 1000_00}, []*payment.Encumbrance{yearly(1, 2025, 50_00)}, "[Orchard Hill 1000.00]"},
		{"up to its limit", payment.ByYear{2025: 400_00, 2026: 600_00}, []*payment.Encumbrance{limited}, "[Lender 1 50.00 Orchard Hill 950.00]"},
		{"two of one year take no other's", payment.ByYear{2025: 400_00, 2026: 600_00}, []*payment.Encumbrance{yearly(1, 2026, 80_00), yearly(2, 2026, 80_00)}, "[Lender 1 480.00 Lender 2 120.00 Orchard Hill 400.00]"},
		{
			"all years first from the others",
			payment.ByYear{2025: 400_00, 2026: 600_00},
			[]*payment.Encumbrance{right(1, payment.Levy, "Tax office", 30_00), yearly(2, 2026, 100_00), yearly(3, 2025, 100_00)},
			"[Tax office 300.00 Lender 2 600.00 Lender 3 100.00]",
		},
		{"charges come off the oldest", payment.ByYear{0: -100_00, 2025: 450_00, 2026: 650_00}, []*payment.Encumbrance{yearly(1, 2025, 100_00)}, "[Lender 1 350.00 Orchard Hill 650.00]"},
		{"and what is of no year before all", payment.ByYear{0: 80_00, 2024: -100_00, 2025: 370_00, 2026: 650_00}, []*payment.Encumbrance{yearly(1, 2025, 100_00)}, "[Lender 1 350.00 Orchard Hill 650.00]"},
		{"payments of an earlier release too", payment.ByYear{2025: 5000_00, 2026: 600_00}, []*payment.Encumbrance{yearly(1, 2026, 100_00)}, "[Lender 1 600.00 Orchard Hill 400.00]"},
		{"unclear, and the balance holds none of it", payment.ByYear{2026: 1000_00}, []*payment.Encumbrance{unclear}, "[Orchard Hill 1000.00]"},
		{"unclear, and it does", payment.ByYear{2025: 1, 2026: 999_99}, []*payment.Encumbrance{unclear}, "a notice of 2026-09-01 is not resolved; until it is, the cooperative could have to pay twice"},
		{"years not kept", payment.ByYear{2026: 999_99}, []*payment.Encumbrance{yearly(1, 2025, 100_00)}, "it is not kept of which crop year $0.01 is, and a notice of 2026-09-01 names one; register the notice for all crop years"},
		{"years not kept and not asked for", nil, []*payment.Encumbrance{yearly(1, 0, 100_00)}, "[Lender 1 1000.00]"},
	} {
		claim := payment.Claim{Member: "members/M-0001", Holder: "Orchard Hill", Balance: 1000_00, Years: c.years, Notices: c.notices}
		shares, err := claim.Split("2026-10-02", dollars)
		require.NoError(t, err)
		got := shares.Blocked
		if got == "" {
			var parts []string
			for _, p := range shares.Parts {
				parts = append(parts, p.To+" "+p.Amount.String())
			}
			got = fmt.Sprint(parts)
		}
		require.Equal(t, c.want, got, c.what)
	}
	claim := payment.Claim{Member: "members/M-0001", Balance: 1000_00, Years: payment.ByYear{2025: 400_00, 2026: 600_00}, Notices: []*payment.Encumbrance{yearly(1, 2025, 50_00)}}
	shares, err := claim.Split("2026-10-02", dollars)
	require.NoError(t, err)
	require.Equal(t, "50.0 % of $400.00 of crop year 2025 by Paper Lender 1", shares.Parts[0].Explanation)
}

func TestOnlyPrivateRightsNameACropYear(t *testing.T) {
	t.Parallel()
	for kind := payment.Withholding; kind <= payment.Heir; kind++ {
		e := right(1, kind, "Somebody", 50_00)
		require.Empty(t, e.Validate())
		e.CropYear = 2026
		private := kind == payment.Lien || kind == payment.Assignment || kind == payment.JointPayee
		require.Equal(t, private, len(e.Validate()) == 0, kind.Words())
	}
	for _, year := range []int{-1, 1999, 2101} {
		require.Equal(t, "crop_year", yearly(1, year, 50_00).Validate()[0].Path)
	}
}

// However much stands of which crop year: parts add up to the balance, and a creditor of one never has more than there is of it.
func TestPartsOfCropYearsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		years, balance := payment.ByYear{}, quantity.Money(0)
		for _, year := range []int{0, 2024, 2025, 2026} {
			years[year] = quantity.Money(rapid.Int64Range(-500_00, 1000_00).Draw(t, "stands"))
			balance += years[year]
		}
		if balance <= 0 {
			return
		}
		claim := payment.Claim{Member: "members/M-0001", Holder: "Orchard Hill", Balance: balance, Years: years}
		for i := range rapid.IntRange(1, 4).Draw(t, "notices") {
			e := yearly(byte(i+1), rapid.SampledFrom([]int{0, 2024, 2025, 2026}).Draw(t, "year"), quantity.Percent(rapid.Int64Range(1, 100_00).Draw(t, "percent")))
			claim.Notices = append(claim.Notices, e)
		}
		shares, err := claim.Split("2026-10-02", dollars)
		require.NoError(t, err)
		require.Empty(t, shares.Blocked)
		var sum quantity.Money
		of := payment.ByYear{}
		for _, p := range shares.Parts {
			require.Positive(t, p.Amount)
			sum += p.Amount
			for _, e := range claim.Notices {
				if e.Name() == p.Payee {
					of[e.CropYear] += p.Amount
				}
			}
		}
		require.Equal(t, balance, sum)
		for year, taken := range of {
			if year != 0 {
				require.LessOrEqual(t, taken, years[year])
			}
		}
	})
}

func TestAReturnedPaymentGoesBackToItsCropYears(t *testing.T) {
	t.Parallel()
	back := payment.Item{ID: uuid.UUID{1}, Amount: -100_01}
	years, err := back.Back(2025, payment.ByYear{2026: 500_00})
	require.NoError(t, err)
	require.Equal(t, payment.ByYear{2025: -100_01}, years)
	years, err = back.Back(0, payment.ByYear{0: -200_00, 2025: 100_00, 2026: 300_00})
	require.NoError(t, err)
	require.Equal(t, payment.ByYear{2025: -25_00, 2026: -75_01}, years, "the odd cent by largest remainder")
	years, err = back.Back(0, nil)
	require.NoError(t, err)
	require.Empty(t, years, "a batch of an earlier release")
}
