package app_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/grading/internal/app"
	"barrelhead.example/services/grading/internal/domain"
	"barrelhead.example/services/kit/clock"
)

// asked is a question that gives every standard something to judge.
func asked(standard string) *gradingv1.EvaluateRequest {
	return &gradingv1.EvaluateRequest{
		Standard: standard, MoisturePercent: "18.7", PfundMm: "42", Flavor: "44", Defects: "38", Clarity: "9", Style: gradingv1.Style_STYLE_FILTERED,
		HmfMgPerKg: "12.4", DiastaseNumber: "7.5", ConductivityMsPerCm: "0.45", FructoseGlucosePercent: "68.5", SucrosePercent: "2.1", FreeAcidityMeqPerKg: "22",
		InsolublePercent: "0.05", DensityLbPerGal: "11.7", HoneydewPercent: "5", FloralSource: "citrus", MarkedColor: "LIGHT_AMBER", ScreenMesh: "80",
		SectionWeightOz: "12.1", Capping: "3", CombSurface: "3", CombUniformity: "1", CombSharePercent: "60", CombAttachmentPercent: "90", CombPieceCount: "2",
		DrawDate: "2026-09-14",
	}
}

func evaluator() *app.App {
	return &app.App{Library: domain.Published(), Clock: clock.NewFake(time.Date(2026, 9, 14, 12, 0, 0, 0, time.UTC)), Zone: time.UTC}
}

// TestEveryStandardHasAnAnswerToTheQuestion keeps the benchmark honest: each judges it and names what decided.
func TestEveryStandardHasAnAnswerToTheQuestion(t *testing.T) {
	t.Parallel()
	for _, s := range domain.Published().All() {
		d, err := evaluator().Evaluate(t.Context(), asked(s.Name()))
		require.NoError(t, err, s.ID)
		require.NotEmpty(t, d.GetGrade(), s.ID)
		require.NotEmpty(t, d.GetFactors(), s.ID)
	}
}

// BenchmarkEvaluate is the whole answer to a question: every field read and checked, judged by the standard, explained, and
// written as the message the caller gets.
func BenchmarkEvaluate(b *testing.B) {
	lab := evaluator()
	for _, s := range domain.Published().All() {
		req := asked(s.Name())
		b.Run(strings.TrimPrefix(s.Name(), "standards/"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := lab.Evaluate(b.Context(), req); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "evaluations/s")
		})
	}
}

// BenchmarkMessages is the limit beside it: the same question read off the wire and the same answer written onto it, with
// nothing decided in between.
func BenchmarkMessages(b *testing.B) {
	req := asked("standards/" + domain.HouseStandard)
	answer, err := evaluator().Evaluate(b.Context(), req)
	require.NoError(b, err)
	wire, err := proto.Marshal(req)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		var in gradingv1.EvaluateRequest
		if err := proto.Unmarshal(wire, &in); err != nil {
			b.Fatal(err)
		}
		if _, err := proto.Marshal(answer); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "evaluations/s")
}

// The wire and the rules count factors alike.
func TestFactorsHaveTheNumbersOfTheWire(t *testing.T) {
	t.Parallel()
	for _, f := range domain.Factors() {
		require.Equal(t, "FACTOR_"+f.String(), gradingv1.Factor(f).String())
	}
	require.Len(t, gradingv1.Factor_name, len(domain.Factors())+1)
}
