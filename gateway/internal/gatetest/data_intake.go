package gatetest

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// Names of the invented season that tests ask for.
const (
	Juniper       = "members/M-0012"
	Sedge         = "members/M-0007"
	OpenTicketID  = "8b0b6d0e-6f0f-4f6e-9d2c-3f1d6a1c0001"
	CloseTicketID = "8b0b6d0e-6f0f-4f6e-9d2c-3f1d6a1c0002"
	SedgeTicketID = "8b0b6d0e-6f0f-4f6e-9d2c-3f1d6a1c0003"
	VoidTicketID  = "8b0b6d0e-6f0f-4f6e-9d2c-3f1d6a1c0004"
	// WrongTicketID was written for Juniper by mistake; that of Sedge stands.
	WrongTicketID = "8b0b6d0e-6f0f-4f6e-9d2c-3f1d6a1c0098"
	LastBarrelID  = "5d7e3a10-0000-4000-8000-000000000003"
)

func lb(value string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: "LB"} }

func usd(amount string) *typev1.Money { return &typev1.Money{Amount: amount, CurrencyCode: "USD"} }

func perLB(amount string) *typev1.Price {
	return &typev1.Price{Amount: amount, CurrencyCode: "USD", PerUnit: "LB"}
}

func at(ago time.Duration) *timestamppb.Timestamp { return timestamppb.New(Opening.Add(-ago)) }

func members() []*intakev1.Member {
	return []*intakev1.Member{
		{Name: Sedge, DisplayName: "Sedge Hollow Apiary", AgreementVersion: "2026", JoinDate: "2019-03-01", CreateTime: at(0)},
		{Name: Juniper, DisplayName: "Juniper Ridge Bees", AgreementVersion: "2026", JoinDate: "2021-04-15", CreateTime: at(0)},
		{Name: "members/M-0031", DisplayName: "Larkmead Honey Yard", AgreementVersion: "2026", JoinDate: "2024-02-01", CreateTime: at(0)},
	}
}

func scales() []*intakev1.Scale {
	return []*intakev1.Scale{
		{
			Name: "scales/1", Description: "Floor scale, lane 1", Division: lb("0.5"), Capacity: lb("2000"),
			AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III, Seal: "0417",
			LastCheck: &intakev1.ScaleCheck{
				Name: "scales/1/checks/1", ZeroIndication: lb("0.0"), Passed: true, Checker: "users/dock1", CheckTime: at(13 * time.Minute), CheckDate: "2026-09-14",
				Finding: "worst load 600.0 lb: off by 0.5 lb, allowed 1.0 lb",
				Loads: []*intakev1.CheckLoad{
					{WeightId: "TW-50-1", Known: lb("50.0"), Indication: lb("50.0"), Error: lb("0.0"), Tolerance: lb("0.5"), Passed: true},
					{WeightId: "CB-600", Known: lb("600.0"), Indication: lb("600.5"), Error: lb("0.5"), Tolerance: lb("1.0"), Passed: true},
				},
			},
		},
		{
			Name: "scales/2", Description: "Pallet scale, lane 2", Division: lb("1.0"), Capacity: lb("5000"),
			AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III,
			LastCheck: &intakev1.ScaleCheck{
				Name: "scales/2/checks/1", Passed: true, Checker: "users/dock1", CheckTime: at(25 * time.Hour), CheckDate: "2026-09-13",
				Finding: "worst load 600.0 lb: off by 0.0 lb, allowed 2.0 lb",
			},
		},
	}
}

func barrel(ticket, member string, line int, tag, variety, gross, tare, net, sample string) *intakev1.Barrel {
	b := &intakev1.Barrel{
		Name: fmt.Sprintf("barrels/5d7e3a10-0000-4000-8000-%012d", line), Ticket: "tickets/" + ticket, Line: int32(line), DrumTag: tag, Variety: variety,
		Gross: lb(gross), Tare: lb(tare), TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Net: lb(net), Scale: "scales/1",
		RawIndication: gross, Manual: true, Reason: "read from the display", Weigher: "users/dock1", WeighTime: at(0), Member: member, CropYear: 2026,
	}
	if sample != "" {
		b.Sample = "samples/" + sample
	}
	return b
}

// openTicket has three barrels; the last one's sample is drawn when the house was asked to.
func openTicket(drawn bool) *intakev1.Ticket {
	last := ""
	if drawn {
		last = "Q7TDMX4R9"
	}
	captured := barrel(OpenTicketID, Juniper, 3, "FC-04433", "basswood", "682.0", "40.5", "641.5", last)
	captured.Manual, captured.Reason, captured.Indication, captured.WeighTime = false, "", "scales/1/indications/1d1ca700-0000-4000-8000-000000000003", at(time.Minute)
	return &intakev1.Ticket{
		Name: "tickets/" + OpenTicketID, Number: "FC-2026-000732", State: intakev1.TicketState_TICKET_STATE_OPEN, Member: Juniper,
		MemberDisplayName: "Juniper Ridge Bees", CropYear: 2026, HarvestDeclared: true, Weigher: "users/dock1", OpenTime: at(4 * time.Minute),
		DeliveryDate: "2026-09-14", Etag: "7", NetTotal: lb("1928.5"),
		Barrels: []*intakev1.Barrel{
			barrel(OpenTicketID, Juniper, 1, "FC-04431", "clover", "686.0", "42.5", "643.5", "H2VK8PWD3"),
			barrel(OpenTicketID, Juniper, 2, "FC-04432", "clover", "684.5", "41.0", "643.5", "N5RCJT7Y9"),
			captured,
		},
	}
}

func closedTicket() *intakev1.Ticket {
	return &intakev1.Ticket{
		Name: "tickets/" + CloseTicketID, Number: "FC-2026-000698", State: intakev1.TicketState_TICKET_STATE_CLOSED, Member: Juniper,
		MemberDisplayName: "Juniper Ridge Bees", CropYear: 2026, Hauler: "Larkmead Honey Yard", HarvestDeclared: true, Weigher: "users/dock1",
		OpenTime: at(170 * time.Hour), CloseTime: at(169 * time.Hour), DeliveryDate: "2026-09-07", Etag: "12", NetTotal: lb("1925.5"),
		Barrels: []*intakev1.Barrel{
			barrel(CloseTicketID, Juniper, 11, "FC-04417", "basswood", "682.0", "42.0", "640.0", "T3FN4HQX6"),
			barrel(CloseTicketID, Juniper, 12, "FC-04418", "clover", "685.0", "41.5", "643.5", "V8CJ2KMD7"),
			barrel(CloseTicketID, Juniper, 13, "FC-04419", "clover", "684.5", "42.5", "642.0", "C6WPR9FH4"),
		},
	}
}

func tickets(drawn bool) []*intakev1.Ticket {
	neighbour := closedTicket()
	neighbour.Name, neighbour.Number, neighbour.Member, neighbour.MemberDisplayName = "tickets/"+SedgeTicketID, "FC-2026-000699", Sedge, "Sedge Hollow Apiary"
	neighbour.Barrels = []*intakev1.Barrel{barrel(SedgeTicketID, Sedge, 21, "FC-03210", "knapweed", "690.0", "43.0", "647.0", "D3XC7FTY8")}
	asked := closedTicket()
	asked.Name, asked.Number, asked.Barrels = "tickets/"+VoidTicketID, "FC-2026-000701", asked.GetBarrels()[:1]
	asked.NetTotal, asked.Owners = lb("640.0"), owners()
	asked.Void = &intakev1.TicketVoid{Reason: "the hauler mixed up two loads", Requester: "users/dock1", RequestTime: at(time.Hour), ReissueMember: Sedge}
	wrong := closedTicket()
	wrong.Name, wrong.Number, wrong.State = "tickets/"+WrongTicketID, "FC-2026-000698", intakev1.TicketState_TICKET_STATE_SUPERSEDED
	wrong.SupersededBy, neighbour.Supersedes = neighbour.GetName(), wrong.GetName()
	return []*intakev1.Ticket{openTicket(drawn), asked, neighbour, closedTicket(), paperTicket(), wrong}
}
