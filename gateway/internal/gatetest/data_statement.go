package gatetest

import (
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// fillStatement adds what was on the scale, what of the cooperative's the member has, and what it has in the cooperative.
func fillStatement(s *settlementv1.Statement) {
	s.Contact = &settlementv1.OfficeContact{PostalAddress: "14 Mill Road, Fallow Creek", Telephone: "555-0142", Email: "office@fallowcreek.example"}
	s.Advances, s.Finals, s.Fees = s.GetTotal().GetNetAmount(), usd("0.00"), usd("0.00")
	for _, p := range s.GetPayouts() {
		s.Deliveries = append(s.Deliveries, &settlementv1.StatementDelivery{
			Barrel: p.GetBarrel(), DrumTag: p.GetDrumTag(), Ticket: p.GetTicket(), TicketNumber: p.GetTicketNumber(), DeliveryDate: p.GetDeliveryDate(), Variety: "basswood",
			Gross: lb("686.0"), Tare: lb("46.0"), Net: lb("640.0"), CountedNet: lb("640.0"), Payable: p.GetPayable(), MoisturePercent: "19.2", ColorClass: "WHITE", Grade: "A",
		})
	}
	if s.GetMember() != Juniper {
		s.Payments = []*settlementv1.StatementPayment{{PaymentDate: "2026-09-18", Payee: "Sedge Hollow Apiary", Amount: usd("754.29"), Description: "account ending in 4417: $838.10 owed"}}
		return
	}
	s.Deliveries = append(s.Deliveries, &settlementv1.StatementDelivery{
		Barrel: "barrels/" + LastBarrelID, DrumTag: "FC-04433", Ticket: "tickets/" + OpenTicketID, TicketNumber: "FC-2026-000017", DeliveryDate: "2026-09-14", Variety: "basswood",
		Gross: lb("684.0"), Tare: lb("46.0"), Net: lb("638.0"), CountedNet: lb("637.0"), SharePercent: "66.6667",
		Correction: "weighed again, the barrel and its drum came to 683.0 lb and not 684.0 lb, so 637.0 lb net counts",
	})
	s.Containers = []*settlementv1.StatementContainers{{Container: "steel closed head", GivenOut: 24, CameBack: 9, Lost: 1, Out: 15, Deposit: usd("375.00")}}
	s.PaymentWords = "$2,348.18 is yours and is not paid yet: a notice of 2026-04-03 is not resolved; until it is, the cooperative could have to pay twice."
	s.ContainerDeposits = usd("375.00")
	s.Pools = []*settlementv1.StatementPool{{
		Title: "Comb honey 2026", RunNumber: "R-2026-02", Payable: lb("41210.5"), Average: perLb("1.871204"), OwnAverage: perLb("1.880012"), Fingerprint: Fingerprint,
		AverageGrade: "A", AverageColorClass: "EXTRA_LIGHT_AMBER",
	}}
	s.Estimates = []*settlementv1.StatementEstimate{{
		Title: "Table honey 2026", RunNumber: "R-2026-01", RunDate: "2026-09-12", Credited: usd("2414.18"), Value: usd("2970.02"), CreditedPercent: "81.2",
	}}
	s.Equity = []*settlementv1.EquityLot{{Member: Juniper, CropYear: 2025, Issued: usd("57.55"), Redeemed: usd("28.78"), Balance: usd("28.77")}}
	s.EquityCorrections = []*settlementv1.EquityCorrection{correction()}
}

func perLb(amount string) *typev1.Price {
	return &typev1.Price{Amount: amount, CurrencyCode: "USD", PerUnit: "LB"}
}

func correction() *settlementv1.EquityCorrection {
	return &settlementv1.EquityCorrection{
		Name: "equityCorrections/1", Member: Juniper, CropYear: 2025, Amount: usd("-9.60"), Payout: "payouts/" + PayoutID, CorrectTime: at(0),
		Reason: "honey of crop year 2025 was corrected after its capital had been given back: $57.55 of it is kept now, the resolutions gave back $38.38, so $9.60 is owed back",
	}
}
