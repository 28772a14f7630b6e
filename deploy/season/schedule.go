package season

import (
	"fmt"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// Prices of the invented cooperative, in cents a pound.
var (
	colorCents = []struct {
		class string
		cents int
	}{
		{"WATER_WHITE", 120},
		{"EXTRA_WHITE", 118},
		{"WHITE", 115},
		{"EXTRA_LIGHT_AMBER", 110},
		{"LIGHT_AMBER", 98},
		{"AMBER", 88},
		{"DARK_AMBER", 80},
	}
	gradeCents = []struct {
		grade string
		cents int
	}{{"A", 0}, {"B", -4}, {"C", -12}, {"SUBSTANDARD", -30}}
	premiumCents = map[string]int{"": 0, "basswood": 12, "buckwheat": 20, "knapweed": 3}
)

// Schedule is the price table the demo's board adopts.
func Schedule(cropYear int32) *settlementv1.Schedule {
	s := &settlementv1.Schedule{
		CropYear:      cropYear,
		EffectiveDate: fmt.Sprintf("%d-01-01", cropYear),
		MoistureRule:  &settlementv1.MoistureRule{BasePercent: "18.6", StepPerTenth: price(1)},
		Deductions: []*settlementv1.DeductionRule{
			{
				Code: "HAULING", Description: "Hauling from the honey house", Authority: "Marketing agreement, article 7",
				Basis: settlementv1.DeductionBasis_DEDUCTION_BASIS_NET_WEIGHT, Rate: price(2),
			},
			{
				Code: "RETAIN", Description: "Per-unit retain, credited to your equity", Authority: "Bylaws, article 12",
				Basis: settlementv1.DeductionBasis_DEDUCTION_BASIS_PAYABLE_WEIGHT, Rate: price(3), Retained: true,
			},
			{
				Code: "CONTAINER", Description: "Wash and lining of the returned drum", Authority: "Marketing agreement, article 9",
				Basis:  settlementv1.DeductionBasis_DEDUCTION_BASIS_BARREL,
				Amount: &typev1.Money{Amount: "1.50", CurrencyCode: "USD"},
			},
		},
	}
	for _, variety := range []string{"", "basswood", "buckwheat", "knapweed"} {
		for _, color := range colorCents {
			for _, grade := range gradeCents {
				s.Rows = append(s.Rows, &settlementv1.PriceRow{
					Variety: variety, ColorClass: color.class, Grade: grade.grade,
					Advance: price(color.cents + grade.cents + premiumCents[variety]),
				})
			}
		}
	}
	return s
}

func price(cents int) *typev1.Price {
	return &typev1.Price{Amount: fmt.Sprintf("%d.%02d", cents/100, cents%100), CurrencyCode: "USD", PerUnit: "LB"}
}
