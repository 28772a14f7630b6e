package tax_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
	"barrelhead.example/services/settlement/internal/domain/tax"
)

var dollars = domain.Terms{Unit: quantity.LB, Currency: "USD"}

func gather(t *testing.T, policy tax.Policy, facts ...tax.Fact) *tax.Record {
	t.Helper()
	for i := range facts {
		facts[i].Member = "members/M-0001"
	}
	records, err := tax.Gather(2026, facts, nil, policy, dollars)
	require.NoError(t, err)
	require.Len(t, records, 1)
	return records[0]
}

func TestBoxes(t *testing.T) {
	t.Parallel()
	facts := []tax.Fact{
		{Kind: tax.Credited, Amount: 5000_00},
		{Kind: tax.Retained, CropYear: 2026, Class: domain.RetainQualified, Amount: 57_55},
		{Kind: tax.Retained, CropYear: 2025, Class: domain.RetainNonqualified, Amount: 11_00},
		{Kind: tax.Retained, CropYear: 2024, Class: domain.RetainUndesignated, Amount: 3_00},
		{Kind: tax.PatronageMoney, CropYear: 2025, Amount: 20_00},
		{Kind: tax.PatronageNotice, CropYear: 2025, Class: domain.PatronageQualified, Amount: 80_00},
		{Kind: tax.PatronageNotice, CropYear: 2024, Class: domain.PatronageNonqualified, Amount: 40_00},
		{Kind: tax.Withheld, Amount: 24_00},
		{Kind: tax.Redeemed, CropYear: 2019, Class: domain.RetainQualified, Amount: 1_00},
		{Kind: tax.Redeemed, CropYear: 2018, Class: domain.RetainNonqualified, Amount: 2_00},
		{Kind: tax.Redeemed, CropYear: 2018, Class: domain.PatronageNonqualified, Amount: 4_00},
		{Kind: tax.Redeemed, CropYear: 2018, Class: domain.PatronageQualified, Amount: 8_00},
		{Kind: tax.Redeemed, CropYear: 2017, Class: domain.RetainUndesignated, Amount: 16_00},
	}
	r := gather(t, tax.Policy{}, facts...)
	require.Equal(t, [10]quantity.Money{1: 100_00, 3: 57_55, 4: 24_00, 5: 6_00}, r.Box)
	require.Equal(t, quantity.Money(5000_00), r.Pool)
	require.Len(t, r.Findings, 2, "what the board has not designated is in no box")
	require.Equal(t, "$20.00 of the refund for crop year 2025 in money; $80.00 of the refund for crop year 2025 by qualified notice", r.Explain(1))
	require.Equal(t, "not kept here; the accountant has it", r.Explain(7))
	require.Equal(t, quantity.Money(5057_55), gather(t, tax.Policy{PoolPayments: true}, facts...).Box[3])
}

// 26 USC 6044(a)(1): 9.99 in the year is not reported, 10.00 is, and anything is where tax was withheld.
func TestThreshold(t *testing.T) {
	t.Parallel()
	box3 := func(amount quantity.Money) tax.Fact {
		return tax.Fact{Kind: tax.Retained, Class: domain.RetainQualified, Amount: amount}
	}
	below := gather(t, tax.Policy{}, box3(9_99))
	require.False(t, below.MustFile)
	require.Equal(t, "boxes 1, 2, 3 and 5 come to $9.99, below $10.00 a person a year, 26 USC 6044(a)(1)", below.Reason)
	require.True(t, gather(t, tax.Policy{}, box3(10_00)).MustFile)
	require.True(t, gather(t, tax.Policy{}, box3(1), tax.Fact{Kind: tax.Withheld, Amount: 1}).MustFile)
}

// 80 FR 22361 and 7 CFR 1212.53(a), with the published worked example.
func TestAssessment(t *testing.T) {
	t.Parallel()
	for day, want := range map[domain.Date]string{"2014-12-31": "0.01", "2015-01-01": "0.0125", "2015-12-31": "0.0125", "2016-01-01": "0.015", "2026-10-31": "0.015"} {
		f, err := tax.On(tax.AssessmentRate, day)
		require.NoError(t, err)
		require.Equal(t, want, f.Value, day)
	}
	_, err := tax.On(tax.AssessmentRate, "2001-01-01")
	require.ErrorContains(t, err, "no figure")
	a, err := tax.Assess("2026-10", 12_345_500, 249_999_000)
	require.NoError(t, err)
	require.Equal(t, quantity.Money(185_18), a.Amount, "12345.5 lb × 0.015 = 185.1825")
	require.True(t, a.MayBeExempt, "249,999 lb in the year")
	require.Equal(t, domain.Date("2026-11-15"), a.Due)
	a, err = tax.Assess("2026-12", 1000, 250_000_000)
	require.NoError(t, err)
	require.False(t, a.MayBeExempt, "the exemption is for less than 250,000 lb")
	require.Equal(t, domain.Date("2027-01-15"), a.Due)
}

// The figures here are those of the published list, each with its source.
func TestFiguresAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	values := map[string]bool{}
	for _, row := range published.Load(t, "money_rates.csv") {
		values[row.Text("value")] = true
	}
	figures, err := tax.Figures()
	require.NoError(t, err)
	require.Len(t, figures, 7)
	for _, f := range figures {
		require.NotEmpty(t, f.Source)
		require.NotEmpty(t, f.Provenance)
		if f.Item == tax.AssessmentRate {
			require.True(t, values[f.Value], f.String())
		}
	}
	require.Equal(t, "assessment: $0.015 per lb, from 2016-01-01 on. Source: 80 FR 22361 (22 Apr 2015), read there", figures[2].String())
	require.Equal(t, "1099-PATR statement due: 31 January after the year, from 1963-01-01 on. Source: 26 USC 6044(e), read there", figures[6].String())
	require.True(t, values["10"] && values["less than 250000"])
}
