package gatetest

import (
	"time"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// Names of the invented season that tests ask for.
const (
	CertificateID = "c0ffee00-0000-4000-8000-000000000412"
	WaitingCode   = "H2VK8PWD3"
	MeasuredCode  = "T3FN4HQX6"
	StockID       = "5d7e3a10-0000-4000-8000-000000000011"
	HoldID        = "401d0000-0000-4000-8000-000000000001"
)

func moistureReading() *gradingv1.Reading {
	return &gradingv1.Reading{
		Name: "readings/aaaa0000-0000-4000-8000-000000000001", Sample: "samples/" + WaitingCode, Kind: gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX,
		Factor: gradingv1.Factor_FACTOR_MOISTURE, RawValue: "1.4868", TemperatureC: "21.0", ReportedValue: "19.2", ComputedValue: "19.18", Instrument: "RF-2",
		Analyst: "users/lab1", ReadTime: at(0), Explanation: "Refractive index 1.4868 at 21.0 °C is 1.48703 at 20 °C; the table gives 19.18 %, reported as 19.2 %.",
	}
}

func readings() []*gradingv1.Reading {
	return []*gradingv1.Reading{
		moistureReading(),
		{Name: "readings/aaaa0000-0000-4000-8000-000000000002", Kind: gradingv1.ReadingKind_READING_KIND_PFUND_MM, Factor: gradingv1.Factor_FACTOR_COLOR, RawValue: "30", ReportedValue: "30", Instrument: "CP-1", Analyst: "users/lab1", ReadTime: at(0), Explanation: "30 mm Pfund as read: white, over 17 to 34 mm."},
		{Name: "readings/aaaa0000-0000-4000-8000-000000000003", Kind: gradingv1.ReadingKind_READING_KIND_FLAVOR, Factor: gradingv1.Factor_FACTOR_FLAVOR, RawValue: "46", ReportedValue: "46", Analyst: "users/lab1", ReadTime: at(0), Explanation: "46 of 50 points."},
		{Name: "readings/aaaa0000-0000-4000-8000-000000000004", Kind: gradingv1.ReadingKind_READING_KIND_DEFECTS, Factor: gradingv1.Factor_FACTOR_DEFECTS, RawValue: "38", ReportedValue: "38", Analyst: "users/lab1", ReadTime: at(0), Explanation: "38 of 40 points."},
	}
}

func samples() []*gradingv1.Sample {
	return []*gradingv1.Sample{
		{Name: "samples/" + WaitingCode, Code: WaitingCode, Variety: "clover", CropYear: 2026, State: gradingv1.SampleState_SAMPLE_STATE_WAITING, DrawTime: at(3 * time.Minute)},
		{Name: "samples/N5RCJT7Y9", Code: "N5RCJT7Y9", Variety: "clover", CropYear: 2026, State: gradingv1.SampleState_SAMPLE_STATE_WAITING, DrawTime: at(2 * time.Minute)},
		{Name: "samples/" + MeasuredCode, Code: MeasuredCode, Variety: "basswood", CropYear: 2026, State: gradingv1.SampleState_SAMPLE_STATE_MEASURED, DrawTime: at(160 * time.Hour), Readings: readings()},
	}
}

func certificate() *gradingv1.Certificate {
	return &gradingv1.Certificate{
		Name: "certificates/" + CertificateID, Number: "G-2026-000412", Sample: "samples/" + MeasuredCode, Variety: "basswood", CropYear: 2026,
		Readings: readings(), Style: gradingv1.Style_STYLE_STRAINED, Releaser: "users/lead1", IssueTime: at(24 * time.Hour),
		Decision: &gradingv1.Decision{
			Standard: "standards/us-extracted-1985", StandardVersion: "1985-1", Grade: "C", ColorClass: "WHITE", TotalScore: "93", MoisturePercent: "19.2", PfundMm: "30",
			Explanation: "Grade C. Water of 19.2 % is above 18.6 %, the most for A and B; everything else is of grade A.",
			Factors: []*gradingv1.FactorResult{
				{Factor: gradingv1.Factor_FACTOR_MOISTURE, Value: "19.2", Grade: "C", Limit: "at most 20.0 % is C", Limiting: true, Source: "US Standards for Grades of Extracted Honey, 1985"},
				{Factor: gradingv1.Factor_FACTOR_FLAVOR, Value: "46", Grade: "A", Limit: "45 to 50 points is A", Source: "US Standards for Grades of Extracted Honey, 1985", Provisional: true},
				{Factor: gradingv1.Factor_FACTOR_DEFECTS, Value: "38", Grade: "A", Limit: "37 to 40 points is A", Source: "US Standards for Grades of Extracted Honey, 1985", Provisional: true},
			},
		},
	}
}

func standards() []*gradingv1.Standard {
	return []*gradingv1.Standard{{
		Name: "standards/us-extracted-1985", Title: "United States Standards for Grades of Extracted Honey", Version: "1985-1", EffectiveDate: "1985-05-23", Source: "USDA AMS",
		Limits: []*gradingv1.StandardLimit{{Grade: "A", Factor: gradingv1.Factor_FACTOR_MOISTURE, Limit: "at most 18.6 %", Source: "Table I", Provenance: "read"}},
	}}
}

func stockTotals() []*inventoryv1.StockTotal {
	total := func(variety, colour, grade string, barrels, held int32, net string) *inventoryv1.StockTotal {
		return &inventoryv1.StockTotal{Variety: variety, CropYear: 2026, ColorClass: colour, Grade: grade, Barrels: barrels, HeldBarrels: held, Net: lb(net)}
	}
	return []*inventoryv1.StockTotal{
		total("basswood", "EXTRA_WHITE", "A", 14, 0, "8988.0"), total("basswood", "WHITE", "A", 61, 0, "39162.5"), total("basswood", "WHITE", "C", 3, 1, "1921.0"),
		total("buckwheat", "AMBER", "B", 9, 0, "5760.0"), total("buckwheat", "DARK_AMBER", "A", 48, 0, "30720.5"),
		total("clover", "", "", 22, 0, "14146.0"), total("clover", "EXTRA_WHITE", "A", 118, 2, "75756.0"), total("clover", "WATER_WHITE", "A", 40, 0, "25680.0"), total("clover", "WHITE", "A", 171, 1, "109782.0"),
		total("goldenrod", "EXTRA_LIGHT_AMBER", "A", 12, 0, "7704.0"), total("goldenrod", "LIGHT_AMBER", "A", 77, 0, "49434.0"),
		total("knapweed", "EXTRA_LIGHT_AMBER", "A", 55, 3, "35310.0"), total("knapweed", "WHITE", "A", 29, 0, "18618.0"),
		total("wildflower", "", "", 6, 0, "3852.0"), total("wildflower", "EXTRA_LIGHT_AMBER", "A", 38, 0, "24396.0"), total("wildflower", "LIGHT_AMBER", "B", 64, 4, "41088.0"),
	}
}

func stock() []*inventoryv1.StockItem {
	return []*inventoryv1.StockItem{
		{
			Name: "stock/" + StockID, Barrel: "barrels/" + StockID, DrumTag: "FC-04417", Net: lb("640.0"), Variety: "basswood", CropYear: 2026, Location: "DOCK",
			State: inventoryv1.StockState_STOCK_STATE_ON_HAND, Grade: "C", ColorClass: "WHITE", MoisturePercent: "19.2", PfundMm: "30",
			Certificate: "certificates/" + CertificateID, Ticket: "tickets/" + CloseTicketID, ReceiveDate: "2026-09-07", Etag: "3", Claims: stockClaims(),
		},
		{
			Name: "stock/5d7e3a10-0000-4000-8000-000000000012", Barrel: "barrels/5d7e3a10-0000-4000-8000-000000000012", DrumTag: "FC-04418", Net: lb("643.5"), Variety: "clover",
			CropYear: 2026, Location: "FC-B2-R1-L1", State: inventoryv1.StockState_STOCK_STATE_ON_HAND, Grade: "A", ColorClass: "EXTRA_WHITE", MoisturePercent: "17.4", PfundMm: "15",
			Ticket: "tickets/" + CloseTicketID, ReceiveDate: "2026-09-07", Etag: "2", Holds: []*inventoryv1.Hold{hold()},
		},
	}
}

func hold() *inventoryv1.Hold {
	return &inventoryv1.Hold{
		Name: "holds/" + HoldID, StockItem: "stock/5d7e3a10-0000-4000-8000-000000000012", Code: inventoryv1.HoldCode_HOLD_CODE_RESIDUE,
		Reason: "routine residue screen, 1 load in 20", Placer: "users/lead1", PlaceTime: at(20 * time.Hour),
	}
}

func movements() []*inventoryv1.Movement {
	return []*inventoryv1.Movement{{
		Name: "movements/1", StockItem: "stock/" + StockID, FromLocation: "DOCK", ToLocation: "FC-B2-R1-L1", Mover: "users/warehouse1", MoveTime: at(100 * time.Hour),
	}}
}
