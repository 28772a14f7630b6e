package main

import (
	"bytes"
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/services/inventory/internal/domain/blend"
	"barrelhead.example/services/kit/quantity"
)

// two orders over three barrels, as columns of a model.
func smallModel() *model {
	return &model{names: []string{"x1_1", "x1_2", "x1_3", "y1_1", "x2_1", "x2_2", "x2_3"}, orders: 2, ids: []string{"a", "b", "c"}}
}

func TestAnswersOfGLPKAreRead(t *testing.T) {
	t.Parallel()
	m := smallModel()
	var v verdict
	m.readGLPK(&v, "INTEGER OPTIMAL SOLUTION FOUND", "c Status\ns mip 9 7 o 1234\ni 1 5\nj 1 1\nj 2 0\nj 4 1\nj 7 1\ne o f\n")
	require.Equal(t, verdict{optimal: true, picks: [][]string{{"a"}, {"c"}}}, v)

	v = verdict{}
	m.readGLPK(&v, "TIME LIMIT EXCEEDED; SEARCH TERMINATED", "s mip 9 7 f 1300\nj 2 1\nj 5 1\n")
	require.Equal(t, verdict{picks: [][]string{{"b"}, {"a"}}}, v, "a plan, not called the best")

	v = verdict{}
	m.readGLPK(&v, "RELATIVE MIP GAP TOLERANCE REACHED; SEARCH TERMINATED", "s mip 9 7 f 1300\nj 2 1\nj 5 1\n")
	require.True(t, v.optimal, "as good as was asked for")

	// Out of time without a plan it ends well, with an objective of 0 and every column at 0.
	v = verdict{}
	m.readGLPK(&v, "TIME LIMIT EXCEEDED; SEARCH TERMINATED", "s mip 9 7 u 0\nj 1 0\nj 2 0\n")
	require.Equal(t, verdict{}, v)

	v = verdict{}
	m.readGLPK(&v, "PROBLEM HAS NO INTEGER FEASIBLE SOLUTION", "s mip 9 7 n 0\n")
	require.Equal(t, verdict{infeasible: true}, v)
}

func TestAnswersOfCBCAreRead(t *testing.T) {
	t.Parallel()
	m := smallModel()
	var v verdict
	m.readCBC(&v, "Optimal - objective value 1234.00000000\n      0 x1_1                  1                      600\n      6 x2_3          0.9999999                      634\n      3 y1_1  1  0\n")
	require.Equal(t, verdict{optimal: true, picks: [][]string{{"a"}, {"c"}}}, v)

	v = verdict{}
	m.readCBC(&v, "Stopped on time - objective value 1300.00000000\n**      1 x1_2                  1                      600\n      4 x2_1                  1  5\n")
	require.Equal(t, verdict{picks: [][]string{{"b"}, {"a"}}}, v, "marked lines and all")

	v = verdict{}
	m.readCBC(&v, "Infeasible - objective value 0.00000000\n      0 x1_1  1  0\n")
	require.Equal(t, verdict{infeasible: true}, v)

	// Out of time without a plan it writes the relaxation or nothing.
	v = verdict{}
	m.readCBC(&v, "Stopped on time (no integer solution - continuous used) - objective value 900\n      0 x1_1  0.4  0\n")
	require.Equal(t, verdict{}, v)
	v = verdict{}
	m.readCBC(&v, "Stopped on time (no integer solution - continuous used) - objective value 900\n      0 x1_1  1  0\n      1 x1_2  0.7  0\n")
	require.Equal(t, verdict{}, v, "a part of a barrel is no plan")
	v = verdict{}
	m.readCBC(&v, "")
	require.Equal(t, verdict{}, v)
}

func TestAnswersOfLPSolveAreRead(t *testing.T) {
	t.Parallel()
	m := smallModel()
	var v verdict
	m.readLPSolve(&v, "Value of objective function: 1234\n\nActual values of the variables:\nx1_1   1\nx1_2   0\ny1_1   1\nx2_3   1\n\nActual values of the constraints:\nR1 1\n")
	require.Equal(t, verdict{optimal: true, picks: [][]string{{"a"}, {"c"}}}, v)
	v = verdict{}
	m.readLPSolve(&v, "The model is sub-optimal. Only a faster solution was found.\nActual values of the variables:\nx1_2   1\nx2_1  1\n")
	require.Equal(t, verdict{picks: [][]string{{"b"}, {"a"}}}, v)
	v = verdict{}
	m.readLPSolve(&v, "\nThis problem is infeasible\n")
	require.Equal(t, verdict{infeasible: true}, v)
	v = verdict{}
	m.readLPSolve(&v, "Actual values of the variables:\nx1_1   0\n")
	require.Equal(t, verdict{}, v, "a plan of nothing is none")
}

func TestABrokenPlanIsRefusedByTheLimitItBreaks(t *testing.T) {
	t.Parallel()
	barrels := []blend.Barrel{
		{ID: "a", Weight: 640_000, Moisture: 1700, Density: 3000, Variety: "clover", Member: "M-1", CropYear: 2026},
		{ID: "b", Weight: 650_000, Moisture: 1740, Density: 5000, Variety: "basswood", Member: "M-2", CropYear: 2025},
	}
	percent := func(p quantity.Percent) *quantity.Percent { return &p }
	density := func(d blend.Density) *blend.Density { return &d }
	none := int64(0)
	// What both barrels come to is 1290.0 of 17.2015… % and 4007.7… of which 49.61… % is clover.
	good := blend.Order{
		ID: "T", MinWeight: 1_290_000, MaxWeight: 1_290_000, MinMoisture: percent(1720), MaxMoisture: percent(1721), MinDensity: density(4007), MaxDensity: density(4008),
		Variety: "clover", MinShare: 49_61, MaxMembers: 2,
	}
	plan := [][]string{{"a", "b"}}
	require.NoError(t, checked([]blend.Order{good}, barrels, plan))
	for word, change := range map[string]func(*blend.Order){
		"too light":   func(o *blend.Order) { o.MinWeight, o.MaxWeight = o.MinWeight+1, o.MaxWeight+1 },
		"too heavy":   func(o *blend.Order) { o.MinWeight, o.MaxWeight = o.MinWeight-1, o.MaxWeight-1 },
		"too dry":     func(o *blend.Order) { o.MinMoisture = percent(1721) },
		"too wet":     func(o *blend.Order) { o.MaxMoisture = percent(1720) },
		"too pale":    func(o *blend.Order) { o.MinDensity = density(4008) },
		"too dark":    func(o *blend.Order) { o.MaxDensity = density(4007) },
		"too little":  func(o *blend.Order) { o.MinShare = 49_62 },
		"old barrels": func(o *blend.Order) { o.MaxAged, o.AgedCropYear = &none, 2025 },
		"members":     func(o *blend.Order) { o.MaxMembers = 1 },
	} {
		bad := good
		change(&bad)
		require.ErrorContains(t, checked([]blend.Order{bad}, barrels, plan), word)
	}
	require.ErrorContains(t, checked([]blend.Order{good, good}, barrels, [][]string{{"a", "b"}, {"a", "b"}}), "used twice")
}

func TestTheSummaryCountsAndNamesTheWorst(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	summarize(&out, []*result{
		{title: "A", barrels: 1000, orders: 1, status: "PROVED", gap: 0.01, ours: 0.1, best: 2},
		{title: "B", barrels: 1000, orders: 1, status: "FOUND", gap: 0.4, ours: 3, best: 2, behind: 0.2},
		{title: "C", barrels: 50, orders: 20, status: "UNDECIDED", gap: -1, ours: 4, best: 1, decided: true},
	})
	require.Contains(t, out.String(), "1 of 2; worst B, FOUND, 0.400 % gap")
	require.Contains(t, out.String(), "2 of 3; worst B, FOUND, 0.200 % cheaper")
	require.Contains(t, out.String(), "2 of 3; worst C, UNDECIDED")
	require.Contains(t, out.String(), "1.500 of the best solver's (aim 0.1); B")
}

func TestSolversGetSoManyTimesOurs(t *testing.T) {
	t.Parallel()
	c := contest{limit: time.Minute, times: 10}
	require.Equal(t, time.Second, c.time(0.01))
	require.Equal(t, 5*time.Second, c.time(0.5))
	require.Equal(t, time.Minute, c.time(30))
	require.Equal(t, time.Minute, contest{limit: time.Minute}.time(0.01))
}

func TestAnInstanceIsMetAndCompared(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	c := contest{limit: 20 * time.Second, solvers: []string{"glpsol", "cbc"}, out: &out}
	for seed := range uint64(kinds) {
		r, err := c.meet(context.Background(), seed, 30, 1)
		require.NoError(t, err)
		require.True(t, r.proved(), "%s: %s", r.title, r.status)
		require.LessOrEqual(t, r.behind, 100.0*gap/1e6)
		require.Positive(t, r.best)
	}
	require.True(t, slices.ContainsFunc([]string{"done", "INFEASIBLE"}, func(s string) bool { return bytes.Contains(out.Bytes(), []byte(s)) }))
}

func TestAPlanThatKeepsEveryLimitRefutesASolver(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	c := contest{out: &out}
	in := instance{result: &result{title: "A", status: "FOUND", ours: 1}}
	require.NoError(t, in.compare(c, verdict{infeasible: true}, "cbc"))
	require.Contains(t, out.String(), "refuted")
	out.Reset()
	in.status = "UNDECIDED"
	require.NoError(t, in.compare(c, verdict{infeasible: true}, "cbc"))
	require.NotContains(t, out.String(), "refuted")
	require.True(t, in.decided)
}
