package domain

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// ControlReading is a run of a control for the report of bias, oldest first.
type ControlReading struct {
	Analyst, Instrument string
	Factor              Factor
	Value               Value
	Target, Sigma       Value
	Failed              bool
}

// JarPair is one factor read on both jars of a duplicated sample.
type JarPair struct{ Original, Duplicate Reading }

// BiasLine is how one analyst reads one factor on one instrument.
type BiasLine struct {
	Analyst, Instrument string
	Factor              Factor
	Runs, Failed        int
	// Bias is the mean of control less target.
	Bias Value
	// BiasSigmas and DriftSigmas are in hundredths of the standard deviation of the control.
	BiasSigmas, DriftSigmas int64
	// Drifts is true where there are enough runs to tell.
	Drifts        bool
	Pairs         int
	DuplicateBias Value
	Attention     bool
}

// fewestForDrift is the least number of runs whose halves are worth comparing, and oneSigma what is worth a look (common
// practice, no source).
const (
	fewestForDrift = 4
	oneSigma       = 100
)

type biasKey struct {
	factor              Factor
	analyst, instrument string
}

type biasSums struct {
	runs   []ControlReading
	failed int
	diffs  []Value
}

// Bias works the report out. Pairs read by the same person on the same instrument tell nothing of bias and are left out.
func (h *HouseRules) Bias(runs []ControlReading, pairs []JarPair) []BiasLine {
	sums := map[biasKey]*biasSums{}
	of := func(f Factor, analyst, instrument string) *biasSums {
		k := biasKey{f, analyst, instrument}
		if sums[k] == nil {
			sums[k] = &biasSums{}
		}
		return sums[k]
	}
	for _, r := range runs {
		s := of(r.Factor, r.Analyst, r.Instrument)
		s.runs = append(s.runs, r)
		if r.Failed {
			s.failed++
		}
	}
	for _, p := range pairs {
		a, b := p.Original, p.Duplicate
		if a.Analyst == b.Analyst && a.Instrument == b.Instrument {
			continue
		}
		first, second := of(a.Factor, a.Analyst, a.Instrument), of(b.Factor, b.Analyst, b.Instrument)
		first.diffs = append(first.diffs, a.Computed-b.Computed)
		second.diffs = append(second.diffs, b.Computed-a.Computed)
	}
	lines := make([]BiasLine, 0, len(sums))
	for k, s := range sums {
		lines = append(lines, h.biasLine(k, s))
	}
	slices.SortFunc(lines, func(a, b BiasLine) int {
		return cmp.Or(cmp.Compare(a.Factor, b.Factor), strings.Compare(a.Analyst, b.Analyst), strings.Compare(a.Instrument, b.Instrument))
	})
	return lines
}

func (h *HouseRules) biasLine(k biasKey, s *biasSums) BiasLine {
	l := BiasLine{Analyst: k.analyst, Instrument: k.instrument, Factor: k.factor, Runs: len(s.runs), Failed: s.failed, Pairs: len(s.diffs)}
	if l.Runs > 0 {
		var sum Value
		for _, r := range s.runs {
			sum += r.Value - r.Target
		}
		l.Bias, l.BiasSigmas = sum/Value(l.Runs), meanSigmas(s.runs)
	}
	if l.Runs >= fewestForDrift {
		half := l.Runs / 2
		l.Drifts, l.DriftSigmas = true, meanSigmas(s.runs[l.Runs-half:])-meanSigmas(s.runs[:half])
		l.Attention = max(l.BiasSigmas, -l.BiasSigmas, l.DriftSigmas, -l.DriftSigmas) > oneSigma
	}
	if l.Pairs > 0 {
		var sum Value
		for _, d := range s.diffs {
			sum += d
		}
		l.DuplicateBias = sum / Value(l.Pairs)
		if most, ruled := h.DuplicateDiffersMost[k.factor]; ruled && beyond(2*l.DuplicateBias, most) {
			l.Attention = true
		}
	}
	return l
}

// meanSigmas is the mean of the deviations in hundredths of each control's own standard deviation.
func meanSigmas(runs []ControlReading) int64 {
	var sum int64
	for _, r := range runs {
		sum += int64(r.Value-r.Target) * oneSigma / int64(r.Sigma)
	}
	return sum / int64(len(runs))
}

// SigmasText writes hundredths of a standard deviation, e.g. "-1.25".
func SigmasText(hundredths int64) string {
	return Value(hundredths * int64(one) / oneSigma).Format(2)
}

// Words say the line with its numbers.
func (l *BiasLine) Words() string {
	var parts []string
	if l.Runs > 0 {
		parts = append(parts, fmt.Sprintf("%d control runs read %s off on average (%s standard deviations), %d failed",
			l.Runs, l.Factor.FormatUnit(l.Bias), SigmasText(l.BiasSigmas), l.Failed))
	}
	if l.Drifts {
		parts = append(parts, fmt.Sprintf("the later half moved by %s standard deviations", SigmasText(l.DriftSigmas)))
	}
	if l.Pairs > 0 {
		parts = append(parts, fmt.Sprintf("%d duplicates read %s off the other jar on average", l.Pairs, l.Factor.FormatUnit(l.DuplicateBias)))
	}
	text := sentence(strings.Join(parts, "; ") + ".")
	if l.Attention {
		text += " Look into it."
	}
	return text
}
