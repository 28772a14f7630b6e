package gatetest

import (
	"time"

	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	"barrelhead.example/services/kit/quantity"
)

// Names of the invented season that tests ask for.
const (
	PayoutID        = "0a7e0000-0000-4000-8000-000000000001"
	SedgePayoutID   = "0a7e0000-0000-4000-8000-000000000009"
	UnknownPayoutID = "0a7e0000-0000-4000-8000-0000000000ff"
	DraftID         = "5c8e0000-0000-4000-8000-000000000002"
	ScheduleID      = "5c8e0000-0000-4000-8000-000000000001"
)

// Calculation is the arithmetic behind the honey line of the payout, as the member reads it.
const Calculation = "640.0 lb × (100 − 19.2) ÷ (100 − 18.6) = 635.3 lb; 635.3 lb × $1.10 = $698.83"

func payouts() []*settlementv1.Payout {
	shrunk := &settlementv1.Payout{
		Name: "payouts/" + PayoutID, Member: Juniper, Kind: settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE, Barrel: "barrels/" + StockID, DrumTag: "FC-04417",
		Ticket: "tickets/" + CloseTicketID, TicketNumber: "FC-2026-000698", DeliveryDate: "2026-09-07", CropYear: 2026, Net: lb("640.0"), Payable: lb("635.3"),
		GrossAmount: usd("698.83"), NetAmount: usd("683.03"), PriceTime: at(23 * time.Hour), Lines: lines(),
		Headline: "Barrel FC-04417 measured 19.2 % water. Full weight is paid up to 18.6 %, so 4.7 lb of 640.0 lb is not paid (about $5.17).",
	}
	full := func(id, tag, net, amount, credited string) *settlementv1.Payout {
		return &settlementv1.Payout{
			Name: "payouts/0a7e0000-0000-4000-8000-00000000000" + id, Member: Juniper, Kind: settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE, DrumTag: tag, Ticket: "tickets/" + CloseTicketID,
			TicketNumber: "FC-2026-000698", DeliveryDate: "2026-09-07", CropYear: 2026, Net: lb(net), Payable: lb(net), GrossAmount: usd(amount), NetAmount: usd(credited),
			PriceTime: at(23 * time.Hour), Lines: plainLines(amount, credited), Headline: "Barrel " + tag + " is paid on its full weight: " + net + " lb of clover, extra white, grade A at $1.32 per lb.",
		}
	}
	back := full("4", "FC-04105", "641.0", "-846.12", "-830.30")
	back.Kind, back.Reason, back.DeliveryDate, back.TicketNumber = settlementv1.PayoutKind_PAYOUT_KIND_REVERSAL, "ticket FC-2026-000655 was recorded to you by mistake", "2026-08-28", "FC-2026-000655"
	back.Headline = "Ticket FC-2026-000655 was recorded to you by mistake. This takes back $830.30 for barrel FC-04105."
	neighbour := full("9", "FC-03210", "647.0", "854.04", "838.10")
	neighbour.Member = Sedge
	return []*settlementv1.Payout{shrunk, full("2", "FC-04418", "643.5", "849.42", "833.55"), full("3", "FC-04419", "642.0", "847.44", "831.60"), back, neighbour}
}

// plainLines are the honey and what is taken off for hauling and drum, of a payout whose amounts are these.
func plainLines(gross, net string) []*settlementv1.PayoutLine {
	var off quantity.Money
	for text, sign := range map[string]quantity.Money{net: 1, gross: -1} {
		amount, err := quantity.ParseMoney(text)
		if err != nil {
			panic(err) // an amount written in this file
		}
		off += sign * amount
	}
	return []*settlementv1.PayoutLine{
		{Line: 1, Kind: settlementv1.LineKind_LINE_KIND_HONEY, Description: "Clover, extra white, grade A", Amount: usd(gross)},
		{Line: 2, Kind: settlementv1.LineKind_LINE_KIND_DEDUCTION, Code: "HAULING", Description: "Hauling and drum care", Amount: usd(off.String())},
	}
}

func lines() []*settlementv1.PayoutLine {
	return []*settlementv1.PayoutLine{
		{
			Line: 1, Kind: settlementv1.LineKind_LINE_KIND_HONEY, Description: "Basswood, white, grade C", Quantity: lb("635.3"), Rate: perLB("1.10"), Amount: usd("698.83"),
			Explanation: &settlementv1.Explanation{
				Rule:        "Above 18.6 % water, the weight of the same honey at 18.6 % water is paid. The price is that of the schedule in force on the delivery date, 2026-09-07.",
				Calculation: Calculation, Schedule: "schedules/" + ScheduleID, Authority: "Board 2026-06-14 no. 3",
				Certificate: "certificates/" + CertificateID, CertificateNumber: "G-2026-000412",
				Inputs: map[string]string{
					"net": "640.0 lb", "moisture_percent": "19.2", "base_percent": "18.6", "payable": "635.3 lb", "price": "$1.10", "variety": "basswood", "color_class": "WHITE", "grade": "C",
				},
				Readings: []string{"refractive index 1.4868 at 21.0 °C on RF-2: 19.2 %", "colour 30 mm Pfund on CP-1: white"},
			},
		},
		{
			Line: 2, Kind: settlementv1.LineKind_LINE_KIND_DEDUCTION, Code: "HAULING", Description: "Hauling, zone 2", Quantity: lb("640.0"), Rate: perLB("0.02"), Amount: usd("-12.80"),
			Explanation: &settlementv1.Explanation{
				Rule: "The rate applies to the net weight delivered.", Calculation: "640.0 lb × $0.02 = $12.80 taken off", Authority: "Marketing agreement 2026, article 7",
				Inputs: map[string]string{"charge": "HAULING", "rate": "$0.02", "weight": "640.0 lb"},
			},
		},
		{
			Line: 3, Kind: settlementv1.LineKind_LINE_KIND_DEDUCTION, Code: "DRUM", Description: "Drum care", Amount: usd("-3.00"),
			Explanation: &settlementv1.Explanation{
				Rule: "Each barrel bears the same amount.", Calculation: "1 barrel × $3.00 = $3.00 taken off", Authority: "Marketing agreement 2026, article 9",
				Inputs: map[string]string{"charge": "DRUM", "amount": "$3.00"},
			},
		},
	}
}

func memberTotals() []*settlementv1.MemberTotal {
	return []*settlementv1.MemberTotal{
		{Member: Sedge, DisplayName: "Sedge Hollow Apiary", Barrels: 1, PricedBarrels: 1, Net: lb("647.0"), Payable: lb("647.0"), GrossAmount: usd("854.04"), Deductions: usd("-15.94"), NetAmount: usd("838.10")},
		{Member: Juniper, DisplayName: "Juniper Ridge Bees", Barrels: 5, PricedBarrels: 3, Net: lb("1925.5"), Payable: lb("1920.8"), GrossAmount: usd("2395.69"), Deductions: usd("-47.51"), NetAmount: usd("2348.18")},
	}
}

func grandTotal() *settlementv1.MemberTotal {
	return &settlementv1.MemberTotal{Barrels: 6, PricedBarrels: 4, Net: lb("2572.5"), Payable: lb("2567.8"), GrossAmount: usd("3249.73"), Deductions: usd("-63.45"), NetAmount: usd("3186.28")}
}

func unpriced() []*settlementv1.Unpriced {
	return []*settlementv1.Unpriced{
		{Barrel: "barrels/1", Member: Juniper, DrumTag: "FC-04420", Reason: "waiting for its certificate", DeliveryDate: "2026-09-11"},
		{Barrel: "barrels/2", Member: Juniper, DrumTag: "FC-04421", Reason: "no adopted schedule has a price for buckwheat, dark amber, grade C", DeliveryDate: "2026-09-11"},
		{Barrel: "barrels/3", Member: Sedge, DrumTag: "FC-03211", Reason: "waiting for its certificate", DeliveryDate: "2026-09-12"},
	}
}

func schedules() []*settlementv1.Schedule {
	rows := []*settlementv1.PriceRow{
		{Variety: "basswood", ColorClass: "WHITE", Grade: "A", Advance: perLB("1.24")},
		{Variety: "basswood", ColorClass: "WHITE", Grade: "C", Advance: perLB("1.10")},
		{Variety: "clover", ColorClass: "EXTRA_WHITE", Grade: "A", Advance: perLB("1.32")},
		{ColorClass: "LIGHT_AMBER", Grade: "A", Advance: perLB("0.98")},
	}
	charges := []*settlementv1.DeductionRule{
		{Code: "HAULING", Description: "Hauling, zone 2", Authority: "Marketing agreement 2026, article 7", Basis: settlementv1.DeductionBasis_DEDUCTION_BASIS_NET_WEIGHT, Rate: perLB("0.02")},
		{Code: "DRUM", Description: "Drum care", Authority: "Marketing agreement 2026, article 9", Basis: settlementv1.DeductionBasis_DEDUCTION_BASIS_BARREL, Amount: usd("3.00")},
	}
	return []*settlementv1.Schedule{
		{Name: "schedules/" + DraftID, CropYear: 2026, Version: 2, EffectiveDate: "2026-10-01", State: settlementv1.ScheduleState_SCHEDULE_STATE_DRAFT, Rows: rows, MoistureRule: &settlementv1.MoistureRule{BasePercent: "18.6", StepPerTenth: perLB("0.005")}, Deductions: charges, Drafter: "users/office1", DraftTime: at(2 * time.Hour)},
		{Name: "schedules/" + ScheduleID, CropYear: 2026, Version: 1, EffectiveDate: "2026-07-01", State: settlementv1.ScheduleState_SCHEDULE_STATE_ADOPTED, Rows: rows, MoistureRule: &settlementv1.MoistureRule{BasePercent: "18.6"}, Deductions: charges, Drafter: "users/office1", DraftTime: at(2000 * time.Hour), Resolution: "Board 2026-06-14 no. 3", Adopter: "users/board1", AdoptTime: at(1900 * time.Hour)},
	}
}
