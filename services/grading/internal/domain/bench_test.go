package domain_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/grading/internal/domain"
)

// BenchmarkJudge is a full evaluation: four factors, the total, the colour class and the explanation.
func BenchmarkJudge(b *testing.B) {
	standard := house()
	for name, fields := range map[string]map[domain.Factor]string{
		"best": {domain.Moisture: "17.4", domain.Color: "42", domain.Flavor: "46", domain.Defects: "38", domain.Clarity: "9"},
		"held": {domain.Moisture: "18.7", domain.Color: "42", domain.Flavor: "44", domain.Defects: "38", domain.Clarity: "9"},
	} {
		q, err := domain.Ask(domain.Filtered, fields)
		require.NoError(b, err)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d, err := standard.Judge(&q)
				if err != nil || d.Grade == "" {
					b.Fatal(d, err)
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "evaluations/s")
		})
	}
}
