// Package netcontent judges whether the packages of a lot hold what their label says, by the Category A sampling plans
// (Appendix A, Table 2-1) and the maximum allowable variations (Table 2-5) of NIST Handbook 133, Checking the Net Contents
// of Packaged Goods. Figures of the tables nobody read in the handbook itself are marked and said to be provisional.
package netcontent

import (
	"fmt"
	"math/big"

	"barrelhead.example/services/kit/quantity"
)

// Unit is what packages are weighed in.
type Unit string

// Units.
const (
	Gram  Unit = "G"
	Pound Unit = "LB"
)

func (u Unit) String() string {
	if u == Gram {
		return "g"
	}
	return "lb"
}

// digits after the point of a Weight: a tenth of a milligram is finer than any line scale, a ten-thousandth of a pound not.
const digits = 4

// Weight is ten-thousandths of a unit.
type Weight int64

// ParseWeight reads a decimal number with at most four digits after the point.
func ParseWeight(s string) (Weight, error) {
	v, err := quantity.ParseFixed(s, digits)
	return Weight(v), err
}

func (w Weight) String() string { return quantity.FormatFixed(int64(w), digits, 1) }

// Most is the heaviest package that is judged: 100 lb, as a weight in unit.
func Most(unit Unit) Weight {
	if unit == Pound {
		return 100_0000
	}
	return 45359_2370
}

// Sample is what was weighed.
type Sample struct {
	// Lot is how many packages the lot has.
	Lot      int64
	Unit     Unit
	Declared Weight
	// Weights are net.
	Weights []Weight
	// Tares are empty packages whose average was taken off; none where nobody weighed any.
	Tares []Weight
}

// Outcome is the judgement. Average, Deviation and Limit are rounded half up for reading; the comparison is exact.
type Outcome struct {
	Average, Deviation, Limit Weight
	// Variation is how much a single package may be short.
	Variation           Weight
	Short, ShortAllowed int
	AverageKept         bool
	Sentences           []string
}

// ShortKept tells whether no more packages are short than may be.
func (o Outcome) ShortKept() bool { return o.Short <= o.ShortAllowed }

// Passed tells whether the lot keeps both.
func (o Outcome) Passed() bool { return o.AverageKept && o.ShortKept() }

// Judge fails with a *SizeError for a sample of another size than the plan's.
func (s Sample) Judge() (Outcome, error) {
	plan := PlanFor(s.Lot)
	if len(s.Weights) != plan.Sample {
		return Outcome{}, &SizeError{Lot: s.Lot, Want: plan.Sample, Got: len(s.Weights)}
	}
	mean, variance := moments(s.Weights)
	variation, unsure := Variation(s.Declared, s.Unit)
	o := Outcome{
		Average: half(mean), Deviation: root(variance), Limit: limit(variance, plan.Factor),
		Variation: variation, ShortAllowed: plan.ShortAllowed,
	}
	for _, w := range s.Weights {
		if w < s.Declared-variation {
			o.Short++
		}
	}
	missing := new(big.Rat).Sub(mean, big.NewRat(int64(s.Declared), 1))
	o.AverageKept = plan.Factor == 0 || averageKept(missing, variance, plan.Factor)
	o.Sentences = s.say(plan, o, unsure || plan.Provisional)
	return o, nil
}

// moments are the mean and the variance over n − 1; the variance of a single weight is zero.
func moments(weights []Weight) (mean, variance *big.Rat) {
	n := int64(len(weights))
	sum := new(big.Rat)
	for _, w := range weights {
		sum.Add(sum, big.NewRat(int64(w), 1))
	}
	mean, variance = sum.Quo(sum, big.NewRat(n, 1)), new(big.Rat)
	if n == 1 {
		return mean, variance
	}
	for _, w := range weights {
		d := new(big.Rat).Sub(big.NewRat(int64(w), 1), mean)
		variance.Add(variance, d.Mul(d, d))
	}
	return mean, variance.Quo(variance, big.NewRat(n-1, 1))
}

// limitSquared is (factor × s)², which is exact where its root is not.
func limitSquared(variance *big.Rat, factor int64) *big.Rat {
	f := big.NewRat(factor, 1000)
	return f.Mul(f, f).Mul(f, variance)
}

// averageKept tells whether the average error plus the sample error limit is not below zero.
func averageKept(missing, variance *big.Rat, factor int64) bool {
	if missing.Sign() >= 0 {
		return true
	}
	return new(big.Rat).Mul(missing, missing).Cmp(limitSquared(variance, factor)) <= 0
}

func limit(variance *big.Rat, factor int64) Weight { return root(limitSquared(variance, factor)) }

// half rounds a number not below zero half up.
func half(r *big.Rat) Weight {
	twice := new(big.Int).Lsh(r.Num(), 1)
	twice.Add(twice, r.Denom())
	return Weight(twice.Quo(twice, new(big.Int).Lsh(r.Denom(), 1)).Int64())
}

// root is the square root, rounded half up: half of one more than the whole root of four times the number.
func root(r *big.Rat) Weight {
	four := new(big.Int).Lsh(r.Num(), 2)
	v := four.Quo(four, r.Denom())
	return Weight((v.Sqrt(v).Int64() + 1) / 2)
}

// SizeError means that the sample is not the one the plan asks for.
type SizeError struct {
	Lot       int64
	Want, Got int
}

// Error says how many to weigh.
func (e *SizeError) Error() string {
	return fmt.Sprintf("a lot of %d packages is judged by %d of them, not by %d: draw as many at random and weigh them", e.Lot, e.Want, e.Got)
}

// Reason is the wire reason.
func (e *SizeError) Reason() string { return "FIELD_INVALID" }

// Field is what is wrong.
func (e *SizeError) Field() string { return "net_weights" }

// Metadata repeats the numbers.
func (e *SizeError) Metadata() map[string]string {
	return map[string]string{"field": e.Field(), "sample_size": fmt.Sprint(e.Want), "lot_size": fmt.Sprint(e.Lot)}
}
