package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

var (
	pounds = domain.Terms{Unit: quantity.LB, Currency: "USD"}
	noon   = time.Date(2026, 9, 20, 12, 0, 0, 0, time.UTC)
)

func mass(t testing.TB, s string) quantity.Mass {
	m, err := quantity.ParseMass(s)
	require.NoError(t, err)
	return m
}

func percent(t testing.TB, s string) quantity.Percent {
	p, err := quantity.ParsePercent(s)
	require.NoError(t, err)
	return p
}

func price(t testing.TB, s string) quantity.Price {
	p, err := quantity.ParsePrice(s)
	require.NoError(t, err)
	return p
}

func money(t testing.TB, s string) quantity.Money {
	m, err := quantity.ParseMoney(s)
	require.NoError(t, err)
	return m
}

// schedule is adopted for crop year 2026 from July on, with hauling on the net and a retain on the payable weight.
func schedule(t testing.TB) *domain.Schedule {
	return &domain.Schedule{
		ID: uuid.MustParse("00000000-0000-4000-8000-0000000000a1"), CropYear: 2026, Version: 1, Effective: "2026-07-01",
		Rows: []domain.PriceRow{
			{ColorClass: "WHITE", Grade: "A", Advance: price(t, "1.15")},
			{ColorClass: "EXTRA_LIGHT_AMBER", Grade: "A", Advance: price(t, "1.10")},
			{ColorClass: "LIGHT_AMBER", Grade: "A", Advance: price(t, "0.98")},
			{Variety: "basswood", ColorClass: "WHITE", Grade: "A", Advance: price(t, "1.22")},
		},
		Moisture: domain.MoistureRule{Base: percent(t, "18.6")},
		Charges: []domain.Charge{
			{Code: "HAULING", Description: "Hauling", Authority: "Marketing agreement 2026, article 7", Basis: domain.BasisNet, Rate: price(t, "0.02")},
			{Code: "RETAIN", Description: "Per-unit retain", Authority: "Bylaws, article 12", Basis: domain.BasisPayable, Rate: price(t, "0.03")},
		},
		Drafter: "users/office1", Resolution: "Board 2026-06-14 no. 3", Adopter: "users/board1", AdoptTime: noon,
	}
}

func barrel(t testing.TB, net, variety string) domain.Delivered {
	return domain.Delivered{
		Barrel: uuid.MustParse("00000000-0000-4000-8000-0000000000b1"), Ticket: uuid.MustParse("00000000-0000-4000-8000-0000000000c1"),
		TicketNumber: "FC-2026-000731", Member: "members/M-0001", DrumTag: "FC-04417", Variety: variety, Net: mass(t, net),
		CropYear: 2026, Date: "2026-09-14",
	}
}

func certificate(t testing.TB, water, color, grade string) domain.Certificate {
	return domain.Certificate{
		ID: uuid.MustParse("00000000-0000-4000-8000-0000000000d1"), Number: "G-2026-000412", Grade: grade, ColorClass: color,
		Water: percent(t, water), Readings: []string{"refractive index 1.4885 at 21.0 °C on RF-2: " + water + " %"},
	}
}

func advance(t testing.TB, s *domain.Schedule, b domain.Delivered, c domain.Certificate) *domain.Payout {
	table := domain.Compile(s)
	p, err := domain.NewAdvance(table, table.Row(b.Variety, c.ColorClass, c.Grade), b, c, pounds, noon)
	require.NoError(t, err)
	return p
}
