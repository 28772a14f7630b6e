package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/kit/quantity"
	"barrelhead.example/services/settlement/internal/domain"
)

type graded struct {
	variety, color, grade string
	net                   quantity.Mass
	water                 quantity.Percent
}

func million(t testing.TB) []graded {
	varieties := []string{"clover", "basswood", "buckwheat", "goldenrod", "knapweed", "wildflower"}
	colors := []string{"WHITE", "EXTRA_LIGHT_AMBER", "LIGHT_AMBER"}
	barrels := make([]graded, 1_000_000)
	for i := range barrels {
		barrels[i] = graded{
			varieties[i%6], colors[i%3], "A", quantity.Mass(600_000 + (i*7919)%60_000), quantity.Percent(1600 + (i*31)%400),
		}
	}
	require.Len(t, barrels, 1_000_000)
	return barrels
}

// Figures are per barrel, with the look-up of the price, a moisture step, and two charges.
func BenchmarkPriceMillionBarrels(b *testing.B) {
	s := schedule(b)
	s.Moisture.Step = price(b, "0.01")
	table, barrels := domain.Compile(s), million(b)
	var a domain.Amounts
	var total quantity.Money
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		for i := range barrels {
			g := &barrels[i]
			if err := table.Price(table.Row(g.variety, g.color, g.grade), g.net, g.water, &a); err != nil {
				b.Fatal(err)
			}
			total += a.Net
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(barrels)), "ns/barrel")
	require.Positive(b, total)
}

func BenchmarkAdvanceInWords(b *testing.B) {
	table, d, c := domain.Compile(schedule(b)), barrel(b, "640.0", "clover"), certificate(b, "19.2", "WHITE", "A")
	row := table.Row(d.Variety, c.ColorClass, c.Grade)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := domain.NewAdvance(table, row, d, c, pounds, noon); err != nil {
			b.Fatal(err)
		}
	}
}

func TestHugeWeightsAreRefusedAndNotWrapped(t *testing.T) {
	t.Parallel()
	var a domain.Amounts
	s := schedule(t)
	s.Rows[0].Advance = price(t, "1000.00")
	err := domain.Compile(s).Price(0, quantity.Mass(1<<62), percent(t, "17.0"), &a)
	require.ErrorIs(t, err, quantity.ErrRange)
}
