package e2e

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"barrelhead.example/deploy/season"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/published"
	"barrelhead.example/services/kit/rpcdial"
)

// asker puts questions to the laboratory twice, through REST and through gRPC, and wants one answer.
type asker struct {
	*world
	grpc gradingv1.GradingServiceClient
	ctx  context.Context //nolint:containedctx // the caller of one test
}

func newAsker(t *testing.T) *asker {
	t.Helper()
	w := newWorld(t, season.Size{Members: 1})
	conn, err := rpcdial.Dial(t.Context(), w.Services["gateway"], "grading")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, conn.Close()) })
	ctx := access.Outgoing(t.Context(), access.Actor{Login: "users/lab", Roles: []accessv1.Role{accessv1.Role_ROLE_LAB}})
	return &asker{world: w, grpc: gradingv1.NewGradingServiceClient(conn), ctx: ctx}
}

// evaluate judges by a standard.
func (a *asker) evaluate(t *testing.T, req *gradingv1.EvaluateRequest) *gradingv1.Decision {
	t.Helper()
	if !strings.HasPrefix(req.GetStandard(), "standards/") {
		req.Standard = "standards/" + req.GetStandard()
	}
	direct, err := a.grpc.Evaluate(a.ctx, req)
	require.NoError(t, err, "%s", req)
	var rest gradingv1.Decision
	require.NoError(t, a.crew.Session("lab").Post(t.Context(), "/v1/"+req.GetStandard()+":evaluate", req, &rest))
	require.True(t, proto.Equal(direct, &rest), "REST answers\n%s\ngRPC\n%s", protojson.Format(&rest), protojson.Format(direct))
	for _, f := range direct.GetFactors() {
		require.NotEmpty(t, f.GetSource(), "%s of %s", f.GetFactor(), req)
	}
	return direct
}

const us = "us-extracted-1985"

func raw(kind gradingv1.ReadingKind, value, temperature string) *gradingv1.RawReading {
	return &gradingv1.RawReading{Kind: kind, RawValue: value, TemperatureC: temperature}
}

const (
	index      = gradingv1.ReadingKind_READING_KIND_REFRACTIVE_INDEX
	absorbance = gradingv1.ReadingKind_READING_KIND_ABSORBANCE_635
)

// TestPublishedFigures asks for published figures through the public API, as a stranger would: every row of the moisture
// table, and every worked example the laboratory has an answer to.
func TestPublishedFigures(t *testing.T) {
	t.Parallel()
	a := newAsker(t)
	rows := published.Load(t, "refractive_index.csv")
	require.Len(t, rows, 61)
	for _, row := range rows {
		d := a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, RawReadings: []*gradingv1.RawReading{raw(index, row.Text("ri_20C"), "")}, Flavor: "50", Defects: "40"})
		require.Equal(t, row.Text("moisture_pct"), d.GetMoisturePercent(), "%s", row)
		water := decimal(t, row.Text("moisture_pct"))
		want := map[bool]string{water <= 18.6: "A", water > 18.6 && water <= 20: "C", water > 20: "SUBSTANDARD"}[true]
		require.Equal(t, want, d.GetGrade(), "%s", row)
	}
	a.workedMoisture(t)
	a.workedColor(t)
	a.workedGrades(t)
	a.workedLimits(t)
	a.workedFacts(t)
	a.indexAtAnyTemperature(t, rows)
	a.whatCannotBe(t)
}

// indexAtAnyTemperature works the table again with binary numbers and wants the same from the API, for readings nobody
// printed.
func (a *asker) indexAtAnyTemperature(t *testing.T, rows []published.Row) {
	t.Helper()
	for i := range 60 {
		reading, degrees := 1.4751+float64(i)*0.00046, 12.5+float64(i%20)*1.3
		at20 := math.Round((reading+0.00023*(degrees-20))*1e7) / 1e7
		want, ok := straight(t, rows, at20)
		if !ok {
			continue
		}
		d := a.evaluate(t, &gradingv1.EvaluateRequest{
			Standard: us, RawReadings: []*gradingv1.RawReading{raw(index, fmt.Sprintf("%.6f", reading), fmt.Sprintf("%.2f", degrees))},
		})
		require.Len(t, d.GetMeasurements(), 1)
		require.InDelta(t, want, decimal(t, d.GetMeasurements()[0].GetComputedValue()), 0.0002, "%f at %f °C", reading, degrees)
		require.InDelta(t, want, decimal(t, d.GetMoisturePercent()), 0.0502)
	}
}

// straight draws a line between the two printed rows around an index.
func straight(t *testing.T, rows []published.Row, at float64) (float64, bool) {
	t.Helper()
	for i := range len(rows) - 1 {
		a, b := decimal(t, rows[i].Text("ri_20C")), decimal(t, rows[i+1].Text("ri_20C"))
		if at > max(a, b) || at < min(a, b) {
			continue
		}
		from, to := decimal(t, rows[i].Text("moisture_pct")), decimal(t, rows[i+1].Text("moisture_pct"))
		return from + (to-from)*(at-a)/(b-a), true
	}
	return 0, false
}

func decimal(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

func examples(t *testing.T, area, quantity string) []published.Row {
	t.Helper()
	return published.Where(published.Where(published.Load(t, "worked_examples.csv"), "area", area), "quantity", quantity)
}

func (a *asker) workedMoisture(t *testing.T) {
	t.Helper()
	for _, quantity := range []string{"moisture by table", "moisture by linear table interpolation"} {
		for _, row := range examples(t, "moisture", quantity) {
			d := a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, RawReadings: []*gradingv1.RawReading{raw(index, strings.TrimPrefix(row.Text("inputs"), "ri20="), "")}})
			require.InDelta(t, decimal(t, row.Text("expected")), decimal(t, d.GetMeasurements()[0].GetComputedValue()), decimal(t, row.Text("tolerance")), "%s", row)
		}
	}
	// A published example prints 20.8 % for 1.4820 at 32 °C, the neighbouring row; the straight line gives 20.7.
	d := a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, RawReadings: []*gradingv1.RawReading{raw(index, "1.4820", "32")}})
	require.Equal(t, "20.7", d.GetMoisturePercent())
	row := examples(t, "moisture", "corrected RI")[0]
	d = a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, RawReadings: []*gradingv1.RawReading{raw(index, "1.4903", "15")}})
	require.Contains(t, d.GetMeasurements()[0].GetExplanation(), row.Text("expected")+" at 20 °C", "%s", row)
}

func (a *asker) workedColor(t *testing.T) {
	t.Helper()
	for quantity, standard := range map[string]string{"class": us, "Wisconsin class": "wisconsin-honey"} {
		for _, row := range examples(t, "colour", quantity) {
			d := a.evaluate(t, &gradingv1.EvaluateRequest{Standard: standard, PfundMm: strings.TrimPrefix(row.Text("inputs"), "mm=")})
			require.Equal(t, strings.ToUpper(strings.ReplaceAll(row.Text("expected"), " ", "_")), d.GetColorClass(), "%s", row)
		}
	}
	for _, row := range examples(t, "colour", "mm Pfund from A635") {
		d := a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, RawReadings: []*gradingv1.RawReading{raw(absorbance, strings.TrimPrefix(row.Text("inputs"), "A635="), "")}})
		require.InDelta(t, decimal(t, row.Text("expected")), decimal(t, d.GetMeasurements()[0].GetComputedValue()), decimal(t, row.Text("tolerance")), "%s", row)
	}
	// Both prints of the boundary agree at 8 and 9; between them "over 8" counts, so that no gap is left.
	for mm, class := range map[string]string{"8": "WATER_WHITE", "8.5": "EXTRA_WHITE", "9": "EXTRA_WHITE", "17": "EXTRA_WHITE", "17.5": "WHITE"} {
		require.Equal(t, class, a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, PfundMm: mm}).GetColorClass(), mm)
	}
}

func (a *asker) workedGrades(t *testing.T) {
	t.Helper()
	filtered := gradingv1.Style_STYLE_FILTERED
	for _, c := range []struct {
		quantity                  string
		flavor, defects, clarity  string
		moisture, grade, decisive string
	}{
		{"US grade, limiting rule", "44", "40", "10", "17.9", "B", "FACTOR_FLAVOR"},
		{"US grade, moisture", "50", "40", "10", "18.7", "C", "FACTOR_MOISTURE"},
		{"US grade, moisture", "50", "40", "10", "20.1", "SUBSTANDARD", "FACTOR_MOISTURE"},
		{"US grade boundary", "50", "40", "10", "18.6", "A", ""},
	} {
		require.NotEmpty(t, examples(t, "grade", c.quantity))
		d := a.evaluate(t, &gradingv1.EvaluateRequest{Standard: us, Style: filtered, Flavor: c.flavor, Defects: c.defects, Clarity: c.clarity, MoisturePercent: c.moisture})
		require.Equal(t, c.grade, d.GetGrade(), c.quantity)
		var decisive []string
		for _, f := range d.GetFactors() {
			if f.GetLimiting() {
				decisive = append(decisive, f.GetFactor().String())
			}
		}
		require.Equal(t, c.decisive, strings.Join(decisive, " "), c.quantity)
	}
	floor := examples(t, "grade", "density floor")[0]
	require.Contains(t, floor.Text("inputs"), "11 lb 8 oz")
	for density, grade := range map[string]string{"11.5": "NO_2", "11.49": "BELOW"} {
		require.Equal(t, grade, a.evaluate(t, &gradingv1.EvaluateRequest{Standard: "wisconsin-honey", DensityLbPerGal: density}).GetGrade(), "%s", floor)
	}
	for _, row := range examples(t, "grade", "lot accept") {
		var n, deviants int32
		_, err := fmt.Sscanf(row.Text("inputs"), "n=%d, deviants %d", &n, &deviants)
		require.NoError(t, err)
		v, err := a.grpc.JudgeLot(a.ctx, &gradingv1.JudgeLotRequest{SampleSize: n, DeviantCount: deviants})
		require.NoError(t, err)
		require.Equal(t, row.Text("expected") == "accept", v.GetAccepted(), "%s", row)
	}
}

func (a *asker) workedLimits(t *testing.T) {
	t.Helper()
	rows := examples(t, "limits", "")
	for i, req := range []*gradingv1.EvaluateRequest{
		{Standard: "eu-honey-2001", FloralSource: "citrus", DiastaseNumber: "4", HmfMgPerKg: "14"},
		{Standard: "eu-honey-2001", FloralSource: "citrus", DiastaseNumber: "4", HmfMgPerKg: "16"},
		{Standard: "eu-honey-2001", FloralSource: "chestnut", ConductivityMsPerCm: "0.75"},
		{Standard: "eu-honey-2001", FloralSource: "lavender", SucrosePercent: "14.0"},
		{Standard: "canada-honey-prepackaged", MoisturePercent: "18.0"},
		{Standard: "canada-honey-prepackaged", MoisturePercent: "18.0", Claims: []gradingv1.Claim{gradingv1.Claim_CLAIM_PASTEURIZED}},
	} {
		d := a.evaluate(t, req)
		failed := false
		for _, f := range d.GetFactors() {
			failed = failed || f.GetLimiting()
		}
		require.Equal(t, strings.HasPrefix(rows[i].Text("expected"), "fail"), failed, "%s", rows[i])
	}
	require.Len(t, rows, 6)
}

func (a *asker) workedFacts(t *testing.T) {
	t.Helper()
	fact := func(req *gradingv1.DeriveFactsRequest, id string) string {
		answer, err := a.grpc.DeriveFacts(a.ctx, req)
		require.NoError(t, err)
		for _, f := range answer.GetFacts() {
			if f.GetId() == id {
				return f.GetValue()
			}
		}
		return ""
	}
	for _, row := range examples(t, "fermentation", "risk") {
		water, yeast, ok := strings.Cut(strings.TrimPrefix(row.Text("inputs"), "moisture "), ", yeast ")
		require.True(t, ok, "%s", row)
		want := map[string]string{"safe": "SAFE", "at risk": "AT_RISK"}[row.Text("expected")]
		require.Equal(t, want, fact(&gradingv1.DeriveFactsRequest{MoisturePercent: water, YeastPerG: strings.TrimSuffix(yeast, "/g")}, "fermentation"), "%s", row)
	}
	bottle := examples(t, "density", "specific gravity by pycnometer")[0]
	require.Equal(t, "A=28.4773 D=54.8809 C=65.2718", bottle.Text("inputs"))
	gravity := fact(&gradingv1.DeriveFactsRequest{BottleEmptyG: "28.4773", BottleWaterG: "54.8809", BottleHoneyG: "65.2718"}, "specific_gravity")
	require.InDelta(t, decimal(t, bottle.Text("expected")), decimal(t, gravity), decimal(t, bottle.Text("tolerance")), "%s", bottle)
	pounds := examples(t, "density", "lb per gal")[0]
	weight, _, _ := strings.Cut(fact(&gradingv1.DeriveFactsRequest{MoisturePercent: "18"}, "density"), " ")
	require.InDelta(t, decimal(t, pounds.Text("expected")), decimal(t, weight), decimal(t, pounds.Text("tolerance")), "%s", pounds)
	share, err := a.grpc.JudgeOriginShare(a.ctx, &gradingv1.JudgeOriginShareRequest{TracedPercent: "47.5", PrintedPercent: "50"})
	require.NoError(t, err)
	require.True(t, share.GetAllowed(), "%s", examples(t, "label", "EU blend")[0])
}

// whatCannotBe names the reading and the field at fault, all of them at once.
func (a *asker) whatCannotBe(t *testing.T) {
	t.Helper()
	status, answer, err := a.crew.Session("lab").Send(t.Context(), "POST", "/v1/standards/us-extracted-1985:evaluate", []byte(`{"moisture_percent": "17.4",
		"raw_readings": [{"kind": "READING_KIND_MOISTURE_PERCENT", "raw_value": "1.79"}, {"kind": "READING_KIND_BRIX", "raw_value": "81"},
		{"kind": "READING_KIND_PFUND_MM", "raw_value": "42", "temperature_c": "25"}]}`))
	require.NoError(t, err)
	require.Equal(t, 400, status, "%s", answer)
	for _, part := range []string{"raw_readings[0].raw_value", "raw_readings[1].kind", "given twice", "raw_readings[2].temperature_c"} {
		require.Contains(t, string(answer), part)
	}
}
