package paper

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/types/known/timestamppb"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
	"barrelhead.example/services/kit/config"
)

// prefix is the company prefix of GS1's own demonstrations.
const prefix = "0614141"

var morning = time.Date(2026, 9, 14, 12, 5, 0, 0, time.UTC)

func at(after time.Duration) *timestamppb.Timestamp { return timestamppb.New(morning.Add(after)) }

func lb(value string) *typev1.Mass { return &typev1.Mass{Value: value, Unit: "LB"} }

func usd(amount string) *typev1.Money { return &typev1.Money{Amount: amount, CurrencyCode: "USD"} }

func testPress(t testing.TB, prefix string) *press {
	t.Helper()
	p, err := newPress(Options{Prefix: prefix, DisputeDays: 30, Cooperative: config.Cooperative{
		Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago",
	}})
	require.NoError(t, err)
	return p
}

func testBarrel(line int) *intakev1.Barrel {
	return &intakev1.Barrel{
		Name: fmt.Sprintf("barrels/5d7e3a10-0000-4000-8000-%012d", line), Ticket: "tickets/1", Line: int32(line), DrumTag: fmt.Sprintf("FC-%05d", 4430+line),
		Variety: "basswood", Gross: lb("686.0"), Tare: lb("42.5"), TareKind: intakev1.TareKind_TARE_KIND_STENCILLED, Net: lb("643.5"), Scale: "scales/1",
		Sample: "samples/T3FN4HQX6", Weigher: "users/dock1", WeighTime: at(time.Duration(line) * 3 * time.Minute), Member: "members/M-0012", CropYear: 2026,
	}
}

// testTicket is closed and has n barrels of 643.5 lb; the second was typed by hand.
func testTicket(n int) *intakev1.Ticket {
	t := &intakev1.Ticket{
		Name: "tickets/1", Number: "FC-2026-000731", State: intakev1.TicketState_TICKET_STATE_CLOSED, Member: "members/M-0012", MemberDisplayName: "Juniper Ridge Bees",
		CropYear: 2026, Hauler: "Larkmead Honey Yard, truck 7", HarvestDeclared: true, Weigher: "users/dock1", OpenTime: at(0), CloseTime: at(2 * time.Hour), DeliveryDate: "2026-09-14",
	}
	for line := 1; line <= n; line++ {
		t.Barrels = append(t.Barrels, testBarrel(line))
	}
	if n > 1 {
		t.Barrels[1].Manual, t.Barrels[1].Reason, t.Barrels[1].Variety = true, "indicator cable wet", "clover"
	}
	t.NetTotal = lb(fmt.Sprintf("%d.%d", n*6435/10, n*6435%10))
	return t
}

func testScales() []*intakev1.Scale {
	return []*intakev1.Scale{{Name: "scales/1", LastCheck: &intakev1.ScaleCheck{
		Name: "scales/1/checks/7d0c", Passed: true, CheckTime: at(-13 * time.Minute), CheckDate: "2026-09-14",
	}}}
}

func testDelivery(n int) delivery {
	t := testTicket(n)
	return delivery{ticket: t, scales: known(t, testScales())}
}

func testCertificate() *gradingv1.Certificate {
	source := "United States Standards for Grades of Extracted Honey, 1985"
	return &gradingv1.Certificate{
		Name: "certificates/c1", Number: "G-2026-000412", Sample: "samples/T3FN4HQX6", Variety: "basswood", CropYear: 2026, Style: gradingv1.Style_STYLE_STRAINED,
		Releaser: "users/lead1", IssueTime: at(0), AppealUntil: "2026-10-14",
		Decision: &gradingv1.Decision{
			Standard: "standards/us-extracted-1985", StandardVersion: "1985-1", Grade: "C", ColorClass: "WHITE", TotalScore: "93", MoisturePercent: "19.2", PfundMm: "30",
			Explanation: "Grade C. Water of 19.2 % is above 18.6 %, the most for A and B; everything else is of grade A.",
			Factors: []*gradingv1.FactorResult{
				{Factor: gradingv1.Factor_FACTOR_MOISTURE, Value: "19.2 %", Grade: "C", Limit: "at most 20.0 % is C", Limiting: true, Source: source},
				{Factor: gradingv1.Factor_FACTOR_FLAVOR, Value: "46", Grade: "A", Limit: "45 to 50 points is A", Source: source, Provisional: true},
			},
		},
		Readings: []*gradingv1.Reading{
			{
				Name: "readings/1", Kind: gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX, RawValue: "1.4868", TemperatureC: "21.0", ReportedValue: "19.2", Instrument: "RF-2",
				Analyst: "users/lab1", ReadTime: at(-time.Hour), Explanation: "Refractive index 1.4868 at 21.0 °C is 1.48703 at 20 °C; the table gives 19.18 %, reported as 19.2 %.",
			},
			{Name: "readings/2", Kind: gradingv1.ReadingKind_READING_KIND_FLAVOR, RawValue: "46", ReportedValue: "46", Analyst: "users/lab1", ReadTime: at(-time.Hour), Explanation: "46 of 50 points."},
		},
	}
}

func testPayouts() []*settlementv1.Payout {
	honey := &settlementv1.PayoutLine{
		Line: 1, Kind: settlementv1.LineKind_LINE_KIND_HONEY, Description: "Basswood, white, grade C", Quantity: lb("635.3"),
		Rate: &typev1.Price{Amount: "1.10", CurrencyCode: "USD", PerUnit: "LB"}, Amount: usd("698.83"),
		Explanation: &settlementv1.Explanation{
			Rule:        "Above 18.6 % water, the weight of the same honey at 18.6 % water is paid.",
			Calculation: "640.0 lb × (100 − 19.2) ÷ (100 − 18.6) = 635.3 lb; 635.3 lb × $1.10 = $698.83",
			Authority:   "Board 2026-06-14 no. 3", CertificateNumber: "G-2026-000412", Readings: []string{"refractive index 1.4868 at 21.0 °C on RF-2: 19.2 %"},
		},
	}
	hauling := &settlementv1.PayoutLine{
		Line: 2, Kind: settlementv1.LineKind_LINE_KIND_DEDUCTION, Code: "HAULING", Description: "Hauling, zone 2", Quantity: lb("640.0"),
		Rate: &typev1.Price{Amount: "0.02", CurrencyCode: "USD", PerUnit: "LB"}, Amount: usd("-12.80"),
		Explanation: &settlementv1.Explanation{Rule: "The rate applies to the net weight delivered.", Calculation: "640.0 lb × $0.02 = $12.80 taken off", Authority: "Marketing agreement 2026, article 7"},
	}
	retain := &settlementv1.PayoutLine{
		Line: 3, Kind: settlementv1.LineKind_LINE_KIND_RETAIN, Code: "RETAIN", Description: "Kept as your own capital", Amount: usd("-3.00"),
		Explanation: &settlementv1.Explanation{Calculation: "1 barrel × $3.00 = $3.00 kept", Authority: "Bylaws, article 11"},
	}
	payout := func(kind settlementv1.PayoutKind, net, gross, headline string, lines ...*settlementv1.PayoutLine) *settlementv1.Payout {
		return &settlementv1.Payout{
			Name: "payouts/0a7e0000-0000-4000-8000-000000000001", Member: "members/M-0012", Kind: kind, DrumTag: "FC-04417", TicketNumber: "FC-2026-000698", DeliveryDate: "2026-09-07",
			CropYear: 2026, Net: lb("640.0"), Payable: lb("635.3"), NetAmount: usd(net), GrossAmount: usd(gross), PriceTime: at(-23 * time.Hour), Headline: headline, Lines: lines,
		}
	}
	back := &settlementv1.PayoutLine{Line: 1, Kind: settlementv1.LineKind_LINE_KIND_HONEY, Description: "Clover, extra white, grade A", Amount: usd("-204.00"), Explanation: &settlementv1.Explanation{Rule: "Takes back to the cent what was credited."}}
	reversal := payout(settlementv1.PayoutKind_PAYOUT_KIND_REVERSAL, "-204.00", "-204.00", "This takes back $204.00 for barrel FC-04105.", back)
	reversal.DrumTag, reversal.Reason, reversal.PriceTime = "FC-04105", "ticket FC-2026-000655 was recorded to you by mistake", at(0)
	return []*settlementv1.Payout{
		reversal,
		payout(settlementv1.PayoutKind_PAYOUT_KIND_ADVANCE, "683.03", "698.83", "Barrel FC-04417 measured 19.2 % water. Full weight is paid up to 18.6 %, so 4.7 lb of 640.0 lb is not paid (about $5.17).", honey, hauling, retain),
	}
}

func testMember() *intakev1.Member {
	return &intakev1.Member{Name: "members/M-0012", DisplayName: "Juniper Ridge Bees", AgreementVersion: "2026", JoinDate: "2021-04-15", CreateTime: at(-1000 * time.Hour)}
}

func testAccount(t testing.TB) account {
	t.Helper()
	waiting := []*settlementv1.Unpriced{{DrumTag: "FC-04420", Reason: "waiting for its certificate", DeliveryDate: "2026-09-11"}}
	a, err := newAccount(testMember(), testPayouts(), waiting, "USD")
	require.NoError(t, err)
	return a
}
