package netcontent

import (
	"math"
	"math/big"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/published"
)

func weight(t require.TestingT, s string) Weight {
	w, err := ParseWeight(s)
	require.NoError(t, err)
	return w
}

var (
	figure  = regexp.MustCompile(`-?\d+(?:\.\d+)?`)
	inUnits = regexp.MustCompile(`(\d+(?:\.\d+)?) (g|lb)`)
)

func figures(t *testing.T, s string) (out []Weight) {
	t.Helper()
	for _, f := range figure.FindAllString(s, -1) {
		out = append(out, weight(t, f))
	}
	return out
}

func rat(w Weight) *big.Rat { return big.NewRat(int64(w), 1) }

func squared(w Weight) *big.Rat { return new(big.Rat).Mul(rat(w), rat(w)) }

func TestPublishedWorkedExamples(t *testing.T) {
	t.Parallel()
	seen := 0
	for _, row := range published.Where(published.Load(t, "worked_examples.csv"), "area", "net contents") {
		t.Run(row.Text("quantity")+" "+row.Text("inputs"), func(t *testing.T) {
			worked(t, row.Text("quantity"), row.Text("inputs"), row.Text("expected"), row.Source())
		})
		seen++
	}
	require.Equal(t, 11, seen)
}

func worked(t *testing.T, quantity, inputs, expected, source string) {
	t.Helper()
	in, want := figures(t, inputs), figures(t, expected)
	switch {
	case strings.HasPrefix(quantity, "average of "):
		o, err := Sample{Lot: 200, Unit: Gram, Declared: in[len(in)-1], Weights: in[:len(in)-1]}.Judge()
		require.NoError(t, err, source)
		require.Equal(t, want[0], o.Average, source)
		require.True(t, o.Passed(), source)
	case strings.HasPrefix(quantity, "sample error limit"):
		require.Equal(t, want[0], limit(squared(in[0]), int64(in[1])/10), source)
	case strings.HasPrefix(quantity, "average test n="):
		n, err := strconv.ParseInt(strings.TrimPrefix(quantity, "average test n="), 10, 64)
		require.NoError(t, err)
		plan := PlanFor(251)
		require.EqualValues(t, n, plan.Sample)
		require.Equal(t, want[0], limit(squared(in[2]), plan.Factor), source)
		require.Equal(t, strings.HasSuffix(expected, "pass"), averageKept(rat(in[1]), squared(in[2]), plan.Factor), source)
	case quantity == "MAV":
		for _, label := range inUnits.FindAllStringSubmatch(inputs, -1) {
			unit := Unit(strings.ToUpper(label[2]))
			got, _ := Variation(weight(t, label[1]), unit)
			require.Contains(t, expected, got.String()+" "+label[2], source)
		}
	case quantity == "EU/UK reference test":
		// The same limit with the factor of 50 packages of UK SI 2006/659, Schedule 2, from memory: 0.379.
		require.Equal(t, want[0], in[1]-limit(squared(in[2]), 379), source)
	case strings.HasPrefix(quantity, "t(0.975,n-1)"):
		n := int(in[0] / 10000)
		factor := student(n-1) / math.Sqrt(float64(n))
		require.InDelta(t, float64(want[0])/10000, factor, 0.0005, source)
		require.InDelta(t, factor, float64(planOf(t, n).Factor)/1000, 0.0007, "the printed factor is Student's t over the root of n")
	default:
		require.Fail(t, "nobody checks "+quantity)
	}
}

func planOf(t *testing.T, n int) Plan {
	t.Helper()
	for _, p := range plans {
		if p.Sample == n {
			return p
		}
	}
	require.Fail(t, "no plan weighs so many", n)
	return Plan{}
}

// student is the 97.5 % point of Student's t: the density is integrated by Simpson's rule and the point found by halving.
func student(freedom int) float64 {
	v := float64(freedom)
	top, _ := math.Lgamma((v + 1) / 2)
	bottom, _ := math.Lgamma(v / 2)
	c := math.Exp(top-bottom) / math.Sqrt(v*math.Pi)
	density := func(x float64) float64 { return c * math.Pow(1+x*x/v, -(v+1)/2) }
	below := func(x float64) float64 {
		const steps = 2000
		h, sum := x/steps, density(0)+density(x)
		for i := 1; i < steps; i++ {
			sum += density(float64(i)*h) * float64(2+2*(i%2))
		}
		return 0.5 + sum*h/3
	}
	low, high := 0.0, 50.0
	for range 60 {
		if middle := (low + high) / 2; below(middle) < 0.975 {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

func TestTablesAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	for name, embedded := range map[string][]byte{"hb133_sampling.csv": samplingFile, "hb133_mav.csv": variationFile} {
		file, err := os.ReadFile("../../../../../testdata/published/" + name)
		require.NoError(t, err)
		require.Equal(t, string(file), string(embedded), name)
	}
	for i := range plans[1:] {
		require.Equal(t, plans[i].To+1, plans[i+1].From, "every size of lot has one plan")
	}
	for i := range variations[1:] {
		require.Equal(t, variations[i].to, variations[i+1].from, "every label has one variation")
	}
}

func TestPlanGrowsWithTheLot(t *testing.T) {
	t.Parallel()
	for _, row := range published.Load(t, "hb133_sampling.csv") {
		from, to, err := sizes(row.Text("lot_size"))
		require.NoError(t, err)
		for _, lot := range []int64{from, to} {
			require.Equal(t, row.Text("sample_size"), strconv.Itoa(PlanFor(lot).Sample), row.Source())
			require.Equal(t, row.Text("packages_allowed_over_MAV"), strconv.Itoa(PlanFor(lot).ShortAllowed), row.Source())
		}
	}
	for lot, want := range map[int64][2]int{1: {1, 0}, 11: {11, 0}, 12: {12, 0}, 250: {12, 0}, 251: {24, 0}, 3200: {24, 0}, 3201: {48, 1}, 1e7: {48, 1}} {
		p := PlanFor(lot)
		require.Equal(t, want, [2]int{p.Sample, p.ShortAllowed}, "lot of %d", lot)
		require.True(t, p.Provisional, "factors are from memory")
	}
	_, unsure := Variation(weight(t, "2"), Pound)
	require.False(t, unsure, "2 lb was read in the handbook")
	most, _ := Variation(Most(Pound), Pound)
	require.Equal(t, "2.0", most.String(), "2 % of 100 lb")
	most, _ = Variation(Most(Gram), Gram)
	require.Equal(t, "907.1847", most.String(), "2 % of 45359.237 g")
	least, _ := Variation(weight(t, "0.08"), Pound)
	require.Equal(t, "0.008", least.String(), "10 % of 0.08 lb")
}

// A label at the upper end of a band has its variation, and the next finer label that of the band above, in either unit.
func TestTheVariationChangesRightAboveEachBand(t *testing.T) {
	t.Parallel()
	at := func(declared Weight, unit Unit) string {
		v, _ := Variation(declared, unit)
		return v.String()
	}
	of := func(row published.Row, column string, declared Weight) string {
		if percent, ok := strings.CutSuffix(row.Text(column), " % of label"); ok {
			n, err := strconv.ParseInt(percent, 10, 64)
			require.NoError(t, err)
			return Weight((int64(declared)*n + 50) / 100).String()
		}
		return weight(t, row.Text(column)).String()
	}
	rows := published.Load(t, "hb133_mav.csv")
	for i, row := range rows[:len(rows)-1] {
		edge := weight(t, row.Text("label_to_lb"))
		require.Equal(t, of(row, "mav_lb", edge), at(edge, Pound), row.Source())
		require.Equal(t, of(rows[i+1], "mav_lb", edge+1), at(edge+1, Pound), row.Source())
		grams := Weight(int64(edge) * 45359237 / 100_000) // the last ten-thousandth of a gram that is not above the edge
		require.Equal(t, of(row, "mav_g", grams), at(grams, Gram), row.Source())
		require.Equal(t, of(rows[i+1], "mav_g", grams+1), at(grams+1, Gram), row.Source())
	}
}

func same(n int, w Weight) []Weight {
	out := make([]Weight, n)
	for i := range out {
		out[i] = w
	}
	return out
}

func TestOneJarShortByMoreThanTheVariationFailsASmallLot(t *testing.T) {
	t.Parallel()
	s := Sample{Lot: 100, Unit: Gram, Declared: weight(t, "454"), Weights: same(12, weight(t, "456"))}
	s.Weights[3] = weight(t, "434.1")
	o, err := s.Judge()
	require.NoError(t, err)
	require.True(t, o.Passed(), "short by exactly 19.9 g is not more")
	s.Weights[3]--
	o, err = s.Judge()
	require.NoError(t, err)
	require.True(t, o.AverageKept)
	require.False(t, o.Passed())
	require.Contains(t, o.Sentences[0], "fails")
	require.Contains(t, o.Sentences[2], "1 of 12 packages weigh less than 434.1 g")

	s = Sample{Lot: 5000, Unit: Gram, Declared: weight(t, "454"), Weights: same(48, weight(t, "456"))}
	s.Weights[0] = weight(t, "430")
	o, err = s.Judge()
	require.NoError(t, err)
	require.True(t, o.Passed(), "a plan of 48 allows one")
}

func TestTheAverageOfEmptyJarsIsTakenOff(t *testing.T) {
	t.Parallel()
	gross := Sample{Lot: 100, Unit: Gram, Declared: weight(t, "454"), Weights: same(12, weight(t, "668.2"))}
	s, err := gross.Tared([]Weight{weight(t, "214.1"), weight(t, "214.2"), weight(t, "214.2")})
	require.NoError(t, err)
	require.Equal(t, "214.1667", Tare(s.Tares).String(), "rounded half up, once")
	require.Equal(t, "454.0333", s.Weights[0].String())
	require.Equal(t, "668.2", gross.Weights[0].String(), "what was read stays as it was")
	o, err := s.Judge()
	require.NoError(t, err)
	require.True(t, o.Passed())
	require.Contains(t, strings.Join(o.Sentences, " "), "The tare of 214.1667 g is the average of 3 empty packages.")
	gross.Weights[4] = weight(t, "214.1")
	_, err = gross.Tared(s.Tares)
	var light *LightError
	require.ErrorAs(t, err, &light)
	require.Equal(t, 4, light.Package)
}

func TestAnAverageBelowTheLabelFailsUnlessTheSampleErrorLimitAllowsIt(t *testing.T) {
	t.Parallel()
	s := Sample{Lot: 100, Unit: Pound, Declared: weight(t, "1"), Weights: same(12, weight(t, "0.9999"))}
	o, err := s.Judge()
	require.NoError(t, err)
	require.False(t, o.Passed(), "jars all alike leave no doubt")
	require.Contains(t, o.Sentences[1], "0.0001 lb below the declared 1.0 lb")
	s.Weights[0], s.Weights[1] = weight(t, "0.997"), weight(t, "1.0028")
	o, err = s.Judge()
	require.NoError(t, err)
	require.True(t, o.Passed(), "jars that differ do")

	one, err := Sample{Lot: 1, Unit: Pound, Declared: weight(t, "1"), Weights: same(1, weight(t, "0.96"))}.Judge()
	require.NoError(t, err)
	require.True(t, one.Passed(), "a single jar may be short by the variation")
	var size *SizeError
	_, err = Sample{Lot: 300, Unit: Pound, Declared: weight(t, "1"), Weights: same(12, weight(t, "1"))}.Judge()
	require.ErrorAs(t, err, &size)
	require.Equal(t, 24, size.Want)
}

// The same more in every jar leaves the spread as it is and raises the average.
func TestMoreInEveryJarNeverFails(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := Sample{Lot: 200, Unit: Gram, Declared: 454_0000, Weights: make([]Weight, 12)}
		for i := range s.Weights {
			s.Weights[i] = Weight(rapid.Int64Range(430_0000, 470_0000).Draw(t, "weight"))
		}
		before, err := s.Judge()
		require.NoError(t, err)
		more := Weight(rapid.Int64Range(0, 10_0000).Draw(t, "more"))
		for i := range s.Weights {
			s.Weights[i] += more
		}
		after, err := s.Judge()
		require.NoError(t, err)
		require.LessOrEqual(t, after.Short, before.Short)
		require.Equal(t, before.Deviation, after.Deviation)
		if before.Passed() {
			require.True(t, after.Passed())
		}
	})
}
